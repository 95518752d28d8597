package desk

import (
	"errors"
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Aim says which state to predict. All pressures are those the instrument gives, zero subtracted.
type Aim struct {
	ToPa, ByPa   *float64 // the pressure to reach, or the change from the present state; one of the two
	FromPa       *float64 // the present state; left out, the zero, the tie where there is no zero, the room's where sealed
	TemperatureC *float64 // of the liquid in both states; left out, that of the zero or the tie
}

// Prediction is where the menisci go when the pressure changes.
type Prediction struct {
	Instrument string `json:"instrument"`
	Title      string `json:"-"`
	Kind       string `json:"kind"`

	FromPa       float64 `json:"from_pa"`
	From         string  `json:"from"`
	ToPa         float64 `json:"to_pa"`
	ChangePa     float64 `json:"change_pa"`
	TemperatureC float64 `json:"liquid_temperature_c"`
	temperature  string

	High Movement `json:"high"`
	Low  Movement `json:"low"`

	// Unit is that of an engraved scale, which reads IndicatedTo of it; empty where the scale is in mm.
	Unit          string   `json:"unit,omitempty"`
	IndicatedFrom *float64 `json:"reading_from,omitempty"` // in unit
	IndicatedTo   *float64 `json:"reading_to,omitempty"`

	// PlainMM is how far each meniscus of a plain U-tube would have moved: vertical, equal bores, the same liquid, air over it.
	PlainMM     *float64 `json:"plain_u_tube_mm,omitempty"`
	PlainLiquid string   `json:"plain_u_tube_liquid"`
	LiquidKgM3  float64  `json:"liquid_density_kg_m3"`
	AirKgM3     float64  `json:"air_density_kg_m3"`
	ExpandedUPa float64  `json:"expanded_uncertainty_pa"`

	OnScale bool `json:"on_scale"`
	// ReadBackPa is what the converter makes of the predicted positions; left out where it refuses them.
	ReadBackPa *float64 `json:"read_back_pa,omitempty"`
	Refusal    string   `json:"refusal,omitempty"`
	Causes     []string `json:"causes"`

	Assumptions []string `json:"assumptions"`
}

// Movement is that of one meniscus.
type Movement struct {
	Direction  string      `json:"direction"` // up, down or none
	AlongMM    float64     `json:"along_mm"`  // positive up the limb
	VerticalMM float64     `json:"vertical_mm"`
	FromMM     *float64    `json:"from_mm,omitempty"` // positions on the scale, where the limb has one
	ToMM       *float64    `json:"to_mm,omitempty"`
	ScaleMM    *[2]float64 `json:"scale_mm,omitempty"`
	Read       bool        `json:"read"` // whether the digitizer reads this limb
	Ratio      *float64    `json:"ratio_to_plain_u_tube,omitempty"`
}

// Predict works out the present state and the state asked for, by the inverse of the conversion, and compares them.
func (b *Bench) Predict(a Aim) (Prediction, error) {
	if (a.ToPa == nil) == (a.ByPa == nil) {
		return Prediction{}, errors.New("state either the pressure to reach or the change, one of the two")
	}
	p := Prediction{Instrument: b.instrument.Name, Title: b.title(), Kind: b.converter.Kind(), Causes: []string{}}
	t := b.stateTemperature(a.TemperatureC, &p.temperature)
	p.TemperatureC = t.Celsius()
	if err := b.present(a, &p); err != nil {
		return Prediction{}, err
	}
	if a.ToPa != nil {
		p.ToPa, p.ChangePa = *a.ToPa, *a.ToPa-p.FromPa
	} else {
		p.ToPa, p.ChangePa = p.FromPa+*a.ByPa, *a.ByPa
	}
	from, err := b.converter.Predict(p.FromPa, t)
	if err != nil {
		return Prediction{}, fmt.Errorf("instrument %s at %g Pa: %w", b.instrument.Name, p.FromPa, err)
	}
	to, err := b.converter.Predict(p.ToPa, t)
	if err != nil {
		return Prediction{}, fmt.Errorf("instrument %s at %g Pa: %w", b.instrument.Name, p.ToPa, err)
	}
	m := b.options.Shape
	p.High = movement(from.High, to.High, from.HighZ, to.HighZ, m.High.Digitized, b.options.HighScale)
	p.Low = movement(from.Low, to.Low, from.LowZ, to.LowZ, m.Low.Digitized, b.options.LowScale)
	if e := b.options.Engraved; e != nil {
		at, goes := float64(from.Low.V)/e.PerUnit, float64(to.Low.V)/e.PerUnit
		p.Unit, p.IndicatedFrom, p.IndicatedTo = e.Unit, &at, &goes
		p.Low.FromMM, p.Low.ToMM, p.Low.ScaleMM = nil, nil, nil // heights, which the scale does not show
	}
	p.OnScale, p.ExpandedUPa = to.OnScale, to.ExpandedU
	if err := b.plain(&p, t); err != nil {
		return Prediction{}, err
	}
	b.readBack(&p, &to, t)
	p.Assumptions = b.predictAssumptions(&p)
	return p, nil
}

// stateTemperature is the temperature both states are taken at, with where it comes from.
func (b *Bench) stateTemperature(given *float64, from *string) quantity.Temperature {
	if given != nil {
		*from = "as given"
		return quantity.Celsius(*given)
	}
	*from = "that of the zero"
	if b.options.Zero == nil {
		*from = "that of the tie"
		if b.instrument.Tie == nil {
			*from = "assumed"
		}
	}
	return b.converter.ZeroTemperature()
}

// present works out the state that the change counts from.
func (b *Bench) present(a Aim, p *Prediction) error {
	switch tie := b.instrument.Tie; {
	case a.FromPa != nil:
		p.FromPa, p.From = *a.FromPa, "as given"
	case b.instrument.Geometry.Kind == configs.Sealed:
		// A barometer stands at the pressure of the room.
		p.FromPa, p.From = *b.config.Ambient.PressureHPa*100, "the ambient pressure of the configuration, absolute"
	case b.options.Zero != nil || tie == nil:
		p.From = "the zero"
	default:
		g := Given{TemperatureC: tie.TemperatureC}
		if b.high {
			g.HighMM = tie.HighMM
		}
		if b.low {
			g.LowMM = tie.LowMM
		}
		r, err := b.Reading(g)
		if err != nil {
			return err
		}
		res := b.converter.Convert(r)
		pa, ok := res.Pressure()
		if !ok {
			return fmt.Errorf("the pair of the tie gives no pressure to start from: %w; state the present pressure with --from", res.Refusal)
		}
		p.FromPa, p.From = pa, "the pair of the tie"
	}
	return nil
}

// movement compares two states of one meniscus. Where the limb has a scale, the way along it is the difference of its
// marks; a level without one, of a reservoir or an upright limb, moves vertically.
func movement(from, to convert.Optional[quantity.Length], fromZ, toZ quantity.Length, read bool, scale convert.Span) Movement {
	m := Movement{VerticalMM: (toZ - fromZ).Millimetres(), Read: read}
	m.AlongMM = m.VerticalMM
	if from.Set && to.Set {
		a, b := from.V.Millimetres(), to.V.Millimetres()
		m.FromMM, m.ToMM, m.AlongMM = &a, &b, b-a
		if scale.High > scale.Low {
			m.ScaleMM = &[2]float64{scale.Low * 1000, scale.High * 1000}
		}
	}
	const still = 1e-9 // mm
	switch {
	case m.VerticalMM > still:
		m.Direction = "up"
	case m.VerticalMM < -still:
		m.Direction = "down"
	default:
		m.Direction = "none"
	}
	return m
}

// plain adds the comparison with a plain U-tube: Δp = (ρ − ρ_air) g 2 s.
func (b *Bench) plain(p *Prediction, t quantity.Temperature) error {
	f := b.options.Liquid
	if b.instrument.Geometry.Kind == configs.InvertedUTube {
		f = b.options.HighOver.Fluid // the lighter one on top makes no U-tube of its own
	}
	p.PlainLiquid = f.Name()
	liquid, err := f.At(t)
	if err != nil {
		return err
	}
	air, err := b.air()
	if err != nil {
		return err
	}
	gas, err := air.At(b.options.Ambient.Temperature)
	if err != nil {
		return fmt.Errorf("ambient air: %w", err)
	}
	p.LiquidKgM3, p.AirKgM3 = float64(liquid.Density), float64(gas.Density)
	weight := (p.LiquidKgM3 - p.AirKgM3) * float64(b.options.Gravity.Value)
	if p.ChangePa == 0 || !(weight > 0) {
		return nil
	}
	mm := math.Abs(p.ChangePa) / (2 * weight) * 1000
	p.PlainMM = &mm
	for _, m := range []*Movement{&p.High, &p.Low} {
		r := math.Abs(m.AlongMM) / mm
		m.Ratio = &r
	}
	return nil
}

// readBack converts the predicted positions, so that a column off its tube is noticed wherever the converter would.
func (b *Bench) readBack(p *Prediction, to *convert.Prediction, t quantity.Temperature) {
	r := convert.Reading{Name: convert.Name{Instrument: b.instrument.Name}, High: to.High, Low: to.Low, Temperature: convert.Some(t)}
	if p.IndicatedTo != nil {
		r.Indicated = convert.Some(*p.IndicatedTo)
	}
	conv := b.converter
	if b.options.Temperature.Fixed.Set && !b.options.Temperature.Live {
		// A fixed temperature would win over the one of this state.
		o := b.options
		o.Temperature = convert.TemperatureRule{Live: true}
		c, err := convert.New(o)
		if err != nil {
			p.Refusal = err.Error()
			return
		}
		conv = c
	}
	res := conv.Convert(r)
	p.Causes = causes(&res)
	if pa, ok := res.Pressure(); ok {
		p.ReadBackPa = &pa
		return
	}
	p.OnScale = false
	p.Refusal = res.Refusal.Error()
}

func (b *Bench) predictAssumptions(p *Prediction) []string {
	list := []string{
		fmt.Sprintf("The liquid is at %.2f °C (%s) in both states; the air is the ambient of the configuration.", p.TemperatureC, p.temperature),
		"Bores are uniform and no liquid is lost: what leaves one limb enters the other.",
	}
	if p.PlainMM != nil {
		list = append(list, fmt.Sprintf("The plain U-tube compared with is vertical, with equal bores, %s of %.3f kg/m³ under air of %.4f kg/m³ in both limbs.", p.PlainLiquid, p.LiquidKgM3, p.AirKgM3))
	}
	if p.From == "the pair of the tie" {
		list = append(list, "There is no zero: the present state is the pair of positions of the tie. State another with --from.")
	}
	return list
}
