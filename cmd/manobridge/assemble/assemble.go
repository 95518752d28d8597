// Package assemble builds converters from a configuration: it maps keys onto the options of convert, applies the
// documented defaults for uncertainties left out, and names each coefficient set by its hash.
//
// It opens nothing and publishes nothing. What a key may hold is the business of configs, what can be computed that of
// convert; a mistake that only the two together show is an error here that names the instrument.
package assemble

import (
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// Converter builds the converter of one instrument.
func Converter(c *configs.Config, in *configs.Instrument) (*convert.Converter, error) {
	o, err := Options(c, in)
	if err != nil {
		return nil, fmt.Errorf("instrument %s: %w", in.Name, err)
	}
	conv, err := convert.New(o)
	if err != nil {
		return nil, fmt.Errorf("instrument %s: %w", in.Name, err)
	}
	return conv, nil
}

// Options maps one instrument onto the options of its converter.
func Options(c *configs.Config, in *configs.Instrument) (convert.Options, error) {
	b := builder{c: c, in: in, cond: in.Conditions}
	o := convert.Options{Instrument: in.Name}
	if err := b.unused(); err != nil {
		return o, err
	}
	var err error
	if o.Gravity, err = Gravity(c.Location); err != nil {
		return o, err
	}
	if in.Liquid == "air" { // on top of an inverted U-tube: that of the room
		o.Liquid, err = b.air()
		o.LiquidAtLine = b.cond.LinePressureKPa != nil
	} else {
		o.Liquid, err = Fluid(c, in.Liquid)
	}
	if err != nil {
		return o, err
	}
	o.Ambient = convert.Ambient{Temperature: quantity.Celsius(*c.Ambient.TemperatureC), TemperatureU: b.both("ambient_temperature_c", in.Uncertainty.AmbientTemperatureC).kelvins(assumedAmbientTemperatureK)}
	b.positions(&o)
	if err = b.extras(&o); err != nil {
		return o, err
	}
	b.temperature(&o)
	if err = b.legs(&o); err != nil {
		return o, err
	}
	// Last, as some kinds set of the above what is theirs.
	if err = b.shape(&o); err != nil {
		return o, err
	}
	b.average(&o)
	if err = b.zeroComplete(&o); err != nil {
		return o, err
	}
	if o.Zero != nil && b.in.Zero.TiltDeg == nil {
		o.Zero.Tilt = b.zeroTilt(&o)
	}
	if r := in.RangePa; r != nil {
		o.Range = &convert.Span{Low: r[0], High: r[1]}
	}
	set, err := CoefficientSet(c, in)
	if err != nil {
		return o, err
	}
	o.Config = set.Hash
	return o, nil
}

// builder carries what the mapping of one instrument needs.
type builder struct {
	c    *configs.Config
	in   *configs.Instrument
	cond configs.Conditions
}

func first[T any](list ...*T) *T {
	for _, p := range list {
		if p != nil {
			return p
		}
	}
	return nil
}

func or(p *float64, otherwise float64) float64 {
	if p != nil {
		return *p
	}
	return otherwise
}

// Gravity gives the local gravity of a location.
func Gravity(l configs.Location) (gravity.Gravity, error) {
	if l.GravityMS2 == nil {
		g, err := gravity.FromLatitude(quantity.Degrees(or(l.LatitudeDeg, math.NaN())), quantity.Metres(or(l.HeightM, math.NaN())))
		if err == nil && l.GravityUMS2 != nil {
			g.U, g.Assumed = *l.GravityUMS2, false
		}
		return g, err
	}
	if l.GravityUMS2 == nil {
		g, err := gravity.Measured(quantity.MetresPerSecondSquared(*l.GravityMS2), assumedGravityU)
		g.Assumed = true
		return g, err
	}
	return gravity.Measured(quantity.MetresPerSecondSquared(*l.GravityMS2), *l.GravityUMS2)
}

// positions sets the zero, the scales, and the uncertainties of what is read.
func (b *builder) positions(o *convert.Options) {
	in, u := b.in, &b.in.Uncertainty
	if z := in.Zero; z != nil {
		o.Zero = &convert.Zero{
			High: quantity.Millimetres(or(z.HighMM, 0)), Low: quantity.Millimetres(or(z.LowMM, 0)),
			Temperature: quantity.Celsius(*z.TemperatureC), Tilt: quantity.Degrees(or(z.TiltDeg, 0)),
		}
	}
	if s := in.Geometry.ScaleMM; s != nil {
		o.HighScale = convert.Span{Low: s[0] / 1000, High: s[1] / 1000}
		o.LowScale = o.HighScale
	}
	if g := in.Geometry; g.Kind == configs.LimbPair {
		o.HighScale = convert.Span{Low: g.High.ScaleMM[0] / 1000, High: g.High.ScaleMM[1] / 1000}
		o.LowScale = convert.Span{Low: g.Low.ScaleMM[0] / 1000, High: g.Low.ScaleMM[1] / 1000}
	}
	o.U.High, o.U.Low = b.limbPositions(u.High), b.limbPositions(u.Low)
	o.U.Resolution = quantity.Millimetres(or(u.ResolutionMM, 0))
	o.U.Meniscus = b.both("meniscus_mm", u.MeniscusMM).length(0)
	now := b.both("temperature_c", u.TemperatureC)
	o.U.Temperature = now.kelvins(assumedTemperatureK)
	o.U.ZeroTemperature = firstGiven(b.both("zero_temperature_c", u.ZeroTemperatureC), now).kelvins(assumedTemperatureK)
	o.U.TieTemperature = firstGiven(b.both("tie_temperature_c", u.TieTemperatureC), now).kelvins(assumedTemperatureK)
}

// zeroComplete refuses a zero without the position of a limb that is read: it would count from the zero of its scale.
func (b *builder) zeroComplete(o *convert.Options) error {
	z := b.in.Zero
	if o.Zero == nil || o.Engraved != nil {
		return nil
	}
	for _, limb := range []struct {
		key  string
		read bool
		at   *float64
	}{{"high_mm", o.Shape.High.Digitized, z.HighMM}, {"low_mm", o.Shape.Low.Digitized, z.LowMM}} {
		if limb.read && limb.at == nil {
			return fmt.Errorf("zero has no %s, and that position is read with every reading: write both that the zero reading showed", limb.key)
		}
	}
	return nil
}

// limbPositions are the uncertainties of one limb's positions: its own where stated, else those of both. Those of the
// zero and the tie are as that of the position where they are left out.
func (b *builder) limbPositions(own *configs.LimbUncertainty) convert.LimbUncertainties {
	u := &b.in.Uncertainty
	pick := func(key string, both *float64, of func(*configs.LimbUncertainty) *float64) given {
		return firstGiven(ofLimb(own, key, of), b.both(key, both))
	}
	position := pick("position_mm", u.PositionMM, func(l *configs.LimbUncertainty) *float64 { return l.PositionMM })
	zero := pick("zero_mm", u.ZeroMM, func(l *configs.LimbUncertainty) *float64 { return l.ZeroMM })
	tie := pick("tie_mm", u.TieMM, func(l *configs.LimbUncertainty) *float64 { return l.TieMM })
	l := convert.LimbUncertainties{
		Position: position.length(assumedPositionMM),
		Zero:     firstGiven(zero, position).length(assumedPositionMM),
		Tie:      firstGiven(tie, position).length(assumedPositionMM),
	}
	l.Zero.Assumed, l.Tie.Assumed = zero.u == nil, tie.u == nil
	return l
}

// temperature maps the rule for the liquid's temperature.
func (b *builder) temperature(o *convert.Options) {
	t := b.in.Temperature
	o.Temperature.Live = t.From != configs.FromFixed
	if t.FixedC != nil {
		o.Temperature.Fixed = convert.Some(quantity.Celsius(*t.FixedC))
	}
	o.Temperature.Ambient = t.From == configs.FromAmbient // never unless the user writes it
}

// Port gives the port of an instrument, nil where it has none.
func Port(c *configs.Config, in *configs.Instrument) *configs.Port {
	for i := range c.Ports {
		if c.Ports[i].Name == in.Port {
			return &c.Ports[i]
		}
	}
	return nil
}

// Instrument finds an instrument by name, nil where there is none.
func Instrument(c *configs.Config, name string) *configs.Instrument {
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return &c.Instruments[i]
		}
	}
	return nil
}

// Fluid resolves a name: a liquid of the file, air as the configured ambient, or a built-in one.
func Fluid(c *configs.Config, name string) (fluid.Fluid, error) {
	for i := range c.Liquids {
		if c.Liquids[i].Name == name {
			return userLiquid(&c.Liquids[i])
		}
	}
	return fluid.Named(name)
}
