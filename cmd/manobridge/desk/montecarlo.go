package desk

import (
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert"
	"manobridge/convert/uncertainty"
)

// DefaultDraws is how many draws a Monte Carlo run takes unless told: 10⁴/(1 − p) for an interval of 95 %.
// Source: JCGM 101:2008, 7.2.2.
const DefaultDraws = 200_000

// seed of the run. Any number does; a fixed one gives the same answer to everybody.
const seed = 1

// MonteCarlo is what drawing the inputs gives, beside the first-order budget.
type MonteCarlo struct {
	Draws  int     `json:"draws"`
	Seed   uint64  `json:"seed"`
	MeanPa float64 `json:"mean_pa"`
	UPa    float64 `json:"standard_uncertainty_pa"`
	LowPa  float64 `json:"interval_low_pa"`
	HighPa float64 `json:"interval_high_pa"`

	// The comparison of JCGM 101:2008, clause 8: by how much the ends of the two intervals differ, and what is allowed when
	// two digits of the combined uncertainty count, and when one does.
	LowDeviationPa      float64 `json:"low_deviation_pa"`
	HighDeviationPa     float64 `json:"high_deviation_pa"`
	TwoDigitTolerancePa float64 `json:"two_digit_tolerance_pa"`
	OneDigitTolerancePa float64 `json:"one_digit_tolerance_pa"`
	// NoisePa is by how much an end of the interval scatters from run to run, one standard deviation.
	NoisePa float64 `json:"noise_pa"`
	// ValidatedDigits is 2, 1, or 0 where the first-order interval is not validated at all.
	ValidatedDigits int `json:"first_order_validated_digits"`
	// Close says that noise alone may have kept the digits from being one more.
	Close bool `json:"close_to_the_tolerance"`

	// Straight lists the inputs that entered by their sensitivity alone.
	Straight []string `json:"first_order_inputs"`
}

// MonteCarlo draws every input of a budget and carries the draws through the whole model.
func (b *Bench) MonteCarlo(budget *Budget, a At, draws int) error {
	p, _, err := b.point(a)
	if err != nil {
		return err
	}
	inputs := b.converter.Inputs()
	m := newModel(&b.options, inputs, p)
	distributions := make([]uncertainty.Distribution, len(inputs))
	for i, in := range inputs {
		if distributions[i], err = distribution(in); err != nil {
			return err
		}
	}
	e, err := uncertainty.Propagate(m.pressure, distributions, draws, seed, uncertainty.DefaultP)
	if err != nil {
		return err
	}
	mc := &MonteCarlo{Draws: e.Draws, Seed: seed, MeanPa: e.Mean, UPa: e.StdU, LowPa: e.Low, HighPa: e.High, NoisePa: endNoise(e), Straight: m.straightNames()}
	if err := mc.compare(budget, e); err != nil {
		return err
	}
	budget.MonteCarlo = mc
	return nil
}

// compare judges the first-order interval with two digits of the combined uncertainty, then with one.
func (m *MonteCarlo) compare(b *Budget, e uncertainty.Estimate) error {
	for _, c := range []struct {
		digits    int
		tolerance *float64
	}{{2, &m.TwoDigitTolerancePa}, {1, &m.OneDigitTolerancePa}} {
		a, err := uncertainty.Agree(b.PressurePa, b.CombinedUPa, b.ExpandedUPa, e, c.digits)
		if err != nil {
			return err
		}
		*c.tolerance, m.LowDeviationPa, m.HighDeviationPa = a.Tolerance, a.LowDeviation, a.HighDeviation
		if m.ValidatedDigits > 0 {
			continue
		}
		if a.Validated {
			m.ValidatedDigits = c.digits
			continue
		}
		m.Close = max(a.LowDeviation, a.HighDeviation) <= a.Tolerance+3*m.NoisePa
	}
	return nil
}

// endNoise is the standard error of an end of the interval, √(q (1 − q)/n) / f, with the density f there taken as that of a
// normal distribution. Source: H. A. David, H. N. Nagaraja, Order Statistics, 3rd edition, 10.2 (from memory).
func endNoise(e uncertainty.Estimate) float64 {
	q := (1 - e.P) / 2
	z := math.Sqrt2 * math.Erfinv(e.P)
	density := math.Exp(-z*z/2) / (math.Sqrt(2*math.Pi) * e.StdU)
	return math.Sqrt(q*(1-q)/float64(e.Draws)) / density
}

// distribution is what is drawn from for one input, as a deviation from its best estimate: rectangular for the step of a
// digitizer, a scaled t where the uncertainty rests on few observations, normal otherwise.
// Source: JCGM 101:2008, 6.4.2, 6.4.9 and 6.4.7.
func distribution(in convert.Input) (uncertainty.Distribution, error) {
	switch {
	case strings.HasSuffix(in.Name, " resolution"):
		return uncertainty.Rectangular(0, in.U*math.Sqrt(3)), nil
	case math.IsInf(in.DOF, 1) || in.U == 0:
		return uncertainty.Normal(0, in.U), nil
	case in.DOF <= 2:
		return uncertainty.Distribution{}, fmt.Errorf("%s has %g degrees of freedom; drawing it takes more than 2 (more than three observations)", in.Name, in.DOF)
	}
	return uncertainty.ScaledT(0, in.U, in.DOF), nil
}

// text gives the comparison as text.
func (m *MonteCarlo) text(b *Budget) string {
	s := fmt.Sprintf("Monte Carlo (JCGM 101:2008), %d draws, seed %d\n", m.Draws, m.Seed)
	s += layout.Labelled("mean", fmt.Sprintf("%s Pa, standard uncertainty %s Pa", figure(m.MeanPa, 7), figure(m.UPa, 4)))
	s += layout.Labelled("interval", fmt.Sprintf("%s to %s Pa holds %.2f %%", figure(m.LowPa, 7), figure(m.HighPa, 7), 100*b.Coverage))
	s += layout.Labelled("first order", fmt.Sprintf("%s to %s Pa", figure(b.PressurePa-b.ExpandedUPa, 7), figure(b.PressurePa+b.ExpandedUPa, 7)))
	s += layout.Labelled("ends differ", fmt.Sprintf("by %s and %s Pa; allowed %s Pa where two digits of u count, %s Pa where one does (clause 8)",
		figure(m.LowDeviationPa, 2), figure(m.HighDeviationPa, 2), figure(m.TwoDigitTolerancePa, 2), figure(m.OneDigitTolerancePa, 2)))
	s += layout.Labelled("verdict", m.verdict())
	if len(m.Straight) > 0 {
		s += layout.Labelled("straight", "these enter by their sensitivity alone: "+strings.Join(m.Straight, ", "))
	}
	return s
}

// verdict says in words what the comparison came to.
func (m *MonteCarlo) verdict() string {
	s := [...]string{"first order NOT validated: state the Monte Carlo interval.", "first order validated to one digit of u.", "first order validated to two digits of u."}[m.ValidatedDigits]
	if m.Close {
		s += fmt.Sprintf(" It came close to more: the ends scatter by %s Pa from run to run, and --monte-carlo=%d would tell.", figure(m.NoisePa, 2), min(20*m.Draws, uncertainty.MaxDraws))
	}
	return s
}
