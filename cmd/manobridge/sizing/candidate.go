package sizing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Candidate is one instrument with what it would be worth.
type Candidate struct {
	Liquid      string   `json:"liquid"`
	Kind        string   `json:"kind"`
	SlopeDeg    float64  `json:"slope_deg"`
	BoreMM      float64  `json:"bore_mm"`
	ReservoirMM *float64 `json:"reservoir_bore_mm,omitempty"`

	ScaleMM  [2]float64 `json:"scale_mm"`
	LengthMM float64    `json:"tube_length_mm"`
	ZeroMM   float64    `json:"zero_mm"`

	SensitivityMMPerPa float64 `json:"sensitivity_mm_per_pa"`
	ResolutionPa       float64 `json:"resolution_pa"`
	TiltPa             float64 `json:"tilt_1_mrad_pa"`       // at the end of the range
	WarmPa             float64 `json:"uncompensated_5_k_pa"` // at the end of the range
	ExpandedUPa        float64 `json:"expanded_uncertainty_pa"`
	WorstAtPa          float64 `json:"expanded_uncertainty_at_pa"`
	Limits             []Limit `json:"largest_contributions"`

	// Configuration is the instrument as a block for a configuration file.
	Configuration string `json:"configuration"`

	assumed []string
}

// Limit is one input of the budget where it is largest.
type Limit struct {
	Input string  `json:"input"`
	Share float64 `json:"share_of_variance"`
}

// end is the end of the range further from zero.
func (r *Request) end() float64 {
	if math.Abs(r.RangePa[0]) > math.Abs(r.RangePa[1]) {
		return r.RangePa[0]
	}
	return r.RangePa[1]
}

// evaluate builds the candidate and asks the converter what it is worth.
func (r *Request) evaluate(site *configs.Config, k *Candidate) error {
	in := r.instrument(k)
	c := *site
	c.Instruments = []configs.Instrument{in}
	conv, err := assemble.Converter(&c, &in)
	if err != nil {
		return err
	}
	k.Configuration = block(&in)
	t := quantity.Celsius(r.midC())
	for _, pa := range []float64{r.RangePa[0], (r.RangePa[0] + r.RangePa[1]) / 2, r.RangePa[1]} {
		p, err := conv.Predict(pa, t)
		if err != nil {
			return err
		}
		if p.ExpandedU > k.ExpandedUPa {
			k.ExpandedUPa, k.WorstAtPa, k.Limits = p.ExpandedU, pa, limits(conv.Inputs(), &p)
		}
	}
	for _, celsius := range r.TemperatureC {
		for _, pa := range r.RangePa {
			p, err := conv.Predict(pa, quantity.Celsius(celsius))
			if err != nil {
				return err
			}
			if !p.OnScale {
				return fmt.Errorf("%g Pa at %g °C lies off the scale", pa, celsius)
			}
		}
	}
	for _, i := range conv.Inputs() {
		if i.Assumed {
			k.assumed = append(k.assumed, strings.TrimSuffix(fmt.Sprintf("%s u = %.3g %s", i.Name, i.U, i.Unit), " 1"))
		}
	}
	slices.Sort(k.assumed) // the order of the inputs is the converter's own affair
	return r.disturb(conv, k, t)
}

// disturb reads the end of the range with the base tilted and with the liquid warmer than it is taken to be.
func (r *Request) disturb(conv *convert.Converter, k *Candidate, t quantity.Temperature) error {
	p, err := conv.Predict(r.end(), t)
	if err != nil {
		return err
	}
	k.SensitivityMMPerPa = math.Abs(p.MovePerPa) * 1000
	k.ResolutionPa = r.PositionMM / k.SensitivityMMPerPa
	level := convert.Reading{High: p.High, Low: p.Low, Temperature: convert.Some(t)}
	tilted, warm := level, level
	tilted.Tilt = convert.Some(quantity.Radians(0.001))
	warm.Temperature = convert.Some(t + 5)
	k.TiltPa = difference(conv, level, tilted)
	k.WarmPa = difference(conv, level, warm)
	if math.IsNaN(k.WarmPa) { // 5 K more is beyond the liquid's range; 5 K less does as well
		warm.Temperature = convert.Some(t - 5)
		k.WarmPa = difference(conv, level, warm)
	}
	if math.IsNaN(k.TiltPa) || math.IsNaN(k.WarmPa) {
		return fmt.Errorf("the end of the range cannot be read 5 K warmer or colder, or tilted by 1 mrad")
	}
	return nil
}

// difference is by how much two readings differ in Pa; NaN where one is refused.
func difference(conv *convert.Converter, a, b convert.Reading) float64 {
	ra, rb := conv.Convert(a), conv.Convert(b)
	pa, okA := ra.Pressure()
	pb, okB := rb.Pressure()
	if !okA || !okB {
		return math.NaN()
	}
	return math.Abs(pb - pa)
}

// limits names the two largest contributions.
func limits(inputs []convert.Input, p *convert.Prediction) []Limit {
	var first, second Limit
	for i, in := range inputs {
		l := Limit{in.Name, math.Pow(p.Contributions[i]/p.CombinedU, 2)}
		switch {
		case l.Share > first.Share:
			first, second = l, first
		case l.Share > second.Share:
			second = l
		}
	}
	return []Limit{first, second}
}

// instrument is the candidate as an entry of a configuration.
func (r *Request) instrument(k *Candidate) configs.Instrument {
	t, bore, position := r.midC(), k.BoreMM, r.PositionMM
	in := configs.Instrument{
		Name: "candidate", Offline: true, Liquid: k.Liquid,
		Geometry:    configs.Geometry{Kind: k.Kind, BoreMM: &bore, ScaleMM: &k.ScaleMM},
		Zero:        &configs.Zero{LowMM: &k.ZeroMM, TemperatureC: &t},
		Uncertainty: configs.Uncertainty{PositionMM: &position, ZeroMM: &position},
		RangePa:     &r.RangePa,
	}
	if k.Kind == configs.UTube {
		in.Zero.HighMM = &k.ZeroMM
		return in
	}
	in.Geometry.SlopeDeg, in.Geometry.ReservoirBoreMM = &k.SlopeDeg, k.ReservoirMM
	return in
}

// block writes the entry as it stands in a file.
func block(in *configs.Instrument) string {
	var b strings.Builder
	g := &in.Geometry
	fmt.Fprintf(&b, "%s:\n  offline: true\n  liquid: %q\n  geometry:\n    kind: %s\n", in.Name, in.Liquid, g.Kind)
	zero := fmt.Sprintf("low_mm: %g", *in.Zero.LowMM)
	if g.Kind == configs.UTube {
		zero = fmt.Sprintf("high_mm: %g, ", *in.Zero.HighMM) + zero
	} else {
		fmt.Fprintf(&b, "    slope_deg: %g\n    reservoir_bore_mm: %g\n", *g.SlopeDeg, *g.ReservoirBoreMM)
	}
	fmt.Fprintf(&b, "    bore_mm: %g\n    scale_mm: [%g, %g]\n", *g.BoreMM, g.ScaleMM[0], g.ScaleMM[1])
	fmt.Fprintf(&b, "  zero: {%s, temperature_c: %g}\n", zero, *in.Zero.TemperatureC)
	fmt.Fprintf(&b, "  uncertainty: {position_mm: %g, zero_mm: %g}\n", *in.Uncertainty.PositionMM, *in.Uncertainty.ZeroMM)
	fmt.Fprintf(&b, "  range_pa: [%g, %g]\n", in.RangePa[0], in.RangePa[1])
	return b.String()
}
