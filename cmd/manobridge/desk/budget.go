package desk

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/convert/uncertainty"
)

// Budget is the uncertainty budget of one instrument at one pressure.
type Budget struct {
	Instrument string `json:"instrument"`
	Title      string `json:"-"`

	PressurePa   float64  `json:"pressure_pa"`
	at           string   // where the pressure comes from
	vapourPa     float64  // over a closed surface
	TemperatureC float64  `json:"liquid_temperature_c"`
	HighMM       *float64 `json:"high_mm,omitempty"`
	LowMM        *float64 `json:"low_mm,omitempty"`
	Reading      *float64 `json:"reading,omitempty"` // of an engraved scale, in its unit
	Unit         string   `json:"unit,omitempty"`
	OnScale      bool     `json:"on_scale"`

	Lines []Line `json:"inputs"` // largest contribution first

	CombinedUPa    float64  `json:"combined_uncertainty_pa"`
	EffectiveDOF   *float64 `json:"effective_degrees_of_freedom,omitempty"` // left out where infinite
	Coverage       float64  `json:"coverage_probability"`
	CoverageFactor float64  `json:"coverage_factor"`
	ExpandedUPa    float64  `json:"expanded_uncertainty_pa"`

	MonteCarlo *MonteCarlo `json:"monte_carlo,omitempty"`
}

// Line is one input of the budget. Value, U and the sensitivity belong to Unit.
type Line struct {
	Input          string   `json:"input"`
	Value          float64  `json:"value"`
	U              float64  `json:"standard_uncertainty"`
	Unit           string   `json:"unit"`
	SensitivityPa  *float64 `json:"sensitivity_pa_per_unit,omitempty"` // left out for an exact input
	ContributionPa float64  `json:"contribution_pa"`
	Share          float64  `json:"share_of_variance"`
	DOF            *float64 `json:"degrees_of_freedom,omitempty"` // left out where infinite
	Assumed        bool     `json:"assumed"`
}

// At says which state a budget is for: a pressure, or what was read.
type At struct {
	Pa           *float64
	Read         *Given // instead of Pa
	TemperatureC *float64
}

// point is a state with what the converter says of it.
type point struct {
	pressure      float64
	high, low     convert.Optional[quantity.Length]
	temperature   quantity.Temperature
	contributions []float64
	expandedU     float64
	onScale       bool
}

// Budget works out the budget at a pressure, or for a reading. Left out, the pressure is the upper end of the range.
func (b *Bench) Budget(a At) (Budget, error) {
	p, where, err := b.point(a)
	if err != nil {
		return Budget{}, err
	}
	out := Budget{Instrument: b.instrument.Name, Title: b.title(), PressurePa: p.pressure, at: where,
		TemperatureC: p.temperature.Celsius(), OnScale: p.onScale}
	for _, l := range []struct {
		from convert.Optional[quantity.Length]
		to   **float64
	}{{p.high, &out.HighMM}, {p.low, &out.LowMM}} {
		if l.from.Set {
			mm := l.from.V.Millimetres()
			*l.to = &mm
		}
	}
	if e := b.options.Engraved; e != nil {
		reading := float64(p.low.V) / e.PerUnit
		out.Reading, out.Unit = &reading, e.Unit
	}
	if b.options.Sealed != nil {
		out.vapourPa, _ = b.options.Sealed.Vapour(p.temperature)
	}
	if err := out.fill(b.converter.Inputs(), p); err != nil {
		return Budget{}, err
	}
	if d := math.Abs(out.ExpandedUPa - p.expandedU); d > 1e-9*p.expandedU {
		return Budget{}, fmt.Errorf("the budget gives an expanded uncertainty of %g Pa and the converter %g Pa: a fault of this program, please report it", out.ExpandedUPa, p.expandedU)
	}
	return out, nil
}

// fill combines the contributions and sorts the lines.
func (b *Budget) fill(inputs []convert.Input, p point) error {
	cover, err := uncertainty.NewCoverage(uncertainty.DefaultP)
	if err != nil {
		return err
	}
	components := make([]uncertainty.Component, len(inputs))
	for i, in := range inputs {
		c := uncertainty.Component{Name: in.Name, Unit: in.Unit, Value: b.value(in), U: in.U, DOF: in.DOF, Assumed: in.Assumed}
		if in.U > 0 {
			c.Sensitivity = p.contributions[i] / in.U
		}
		components[i] = c
	}
	total, err := uncertainty.NewBudget(components, nil, cover)
	if err != nil {
		return err
	}
	b.CombinedUPa, b.CoverageFactor, b.ExpandedUPa, b.Coverage = total.CombinedU, total.CoverageFactor, total.ExpandedU, total.P
	b.EffectiveDOF = finiteDOF(total.EffectiveDOF)
	for _, s := range total.Shares() {
		c := components[s.Index]
		line := Line{Input: c.Name, Value: c.Value, U: c.U, Unit: c.Unit, ContributionPa: s.Contribution, Share: s.Fraction,
			DOF: finiteDOF(c.DOF), Assumed: c.Assumed}
		if c.U > 0 {
			line.SensitivityPa = &c.Sensitivity
		}
		b.Lines = append(b.Lines, line)
	}
	return nil
}

// value is the best estimate of an input; those of a reading are those of this state.
func (b *Budget) value(in convert.Input) float64 {
	if !math.IsNaN(in.Value) {
		return in.Value
	}
	switch {
	case strings.HasSuffix(in.Name, "limb position") && strings.HasPrefix(in.Name, "high") && b.HighMM != nil:
		return *b.HighMM
	case strings.HasSuffix(in.Name, "limb position") && b.LowMM != nil:
		return *b.LowMM
	case in.Unit == "°C":
		return b.TemperatureC
	}
	if in.Name == "pressure over the closed surface" {
		return b.vapourPa
	}
	return 0 // a deviation: resolution, meniscus
}

func finiteDOF(dof float64) *float64 {
	if math.IsInf(dof, 1) {
		return nil
	}
	return &dof
}

// point finds the state of the budget.
func (b *Bench) point(a At) (point, string, error) {
	if a.Read != nil {
		return b.readPoint(*a.Read)
	}
	var from string
	t := b.stateTemperature(a.TemperatureC, &from)
	where := "as asked"
	var pa float64
	switch {
	case a.Pa != nil:
		pa = *a.Pa
	case b.instrument.RangePa != nil:
		pa, where = b.instrument.RangePa[1], "the upper end of the range"
	default:
		_, top, err := b.converter.ScaleSpan(t)
		if err != nil {
			return point{}, "", b.unpredictable(err)
		}
		pa, where = top, "the end of the scale"
	}
	p, err := b.converter.Predict(pa, t)
	if err != nil {
		return point{}, "", b.unpredictable(err)
	}
	return point{pressure: pa, high: p.High, low: p.Low, temperature: t, contributions: p.Contributions[:], expandedU: p.ExpandedU, onScale: p.OnScale}, where, nil
}

// unpredictable says what to do where no state can be worked out from a pressure.
func (b *Bench) unpredictable(err error) error {
	if errors.Is(err, convert.ErrNoVolume) {
		return fmt.Errorf("instrument %s: %w; or give the positions themselves, with --high-mm and --low-mm", b.instrument.Name, err)
	}
	return fmt.Errorf("instrument %s: %w", b.instrument.Name, err)
}

// readPoint is the state of a reading.
func (b *Bench) readPoint(g Given) (point, string, error) {
	r, err := b.Reading(g)
	if err != nil {
		return point{}, "", err
	}
	res := b.converter.Convert(r)
	pa, ok := res.Pressure()
	if !ok {
		return point{}, "", res.Refusal
	}
	if e := b.options.Engraved; e != nil {
		r.Low = convert.Some(quantity.Metres(r.Indicated.V * e.PerUnit)) // the mark as a height of its liquid
	}
	return point{pressure: pa, high: r.High, low: r.Low, temperature: res.Temperature.V, contributions: res.Contributions[:],
		expandedU: res.ExpandedU, onScale: true}, "as read", nil
}
