package assemble

import (
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/quantity"
)

// userLiquid makes a liquid from its block in the file.
func userLiquid(l *configs.Liquid) (fluid.Fluid, error) {
	if len(l.Points) > 0 {
		points := make([]fluid.Point, len(l.Points))
		for i, p := range l.Points {
			points[i] = fluid.Point{Temperature: quantity.Celsius(p[0]), Density: quantity.KilogramsPerCubicMetre(p[1])}
		}
		return fluid.NewTable(fluid.TableOptions{Name: l.Name, Source: l.Source, Points: points, DensityU: stated(l.DensityUKgM3)})
	}
	o := fluid.LiquidOptions{
		Name: l.Name, Source: l.Source, Density: quantity.KilogramsPerCubicMetre(or(l.DensityKgM3, 0)), DensityU: stated(l.DensityUKgM3),
		Reference: quantity.Celsius(or(l.ReferenceC, 0)), Expansion: quantity.PerKelvin(or(l.ExpansionPerK, 0)), ExpansionU: stated(l.ExpansionUPerK),
		Form: fluid.Form(l.ExpansionForm), SecondOrder: or(l.ExpansionQuadraticPerK2, 0),
	}
	if l.ValidC != nil {
		o.Low, o.High = quantity.Celsius(l.ValidC[0]), quantity.Celsius(l.ValidC[1])
	}
	return fluid.NewLiquid(o)
}

// stated passes on whether a standard uncertainty was written.
func stated(u *float64) fluid.Uncertainty {
	if u == nil {
		return fluid.Uncertainty{}
	}
	return fluid.Stated(*u)
}

// scaled does so with a change of unit, and with a default of our own.
func scaled(u *float64, by, otherwise float64) fluid.Uncertainty {
	if u == nil {
		return fluid.Assumed(otherwise)
	}
	return fluid.Stated(*u * by)
}

// air is the gas of the legs: the configured ambient, at the line pressure where one is stated.
func (b *builder) air() (fluid.Fluid, error) {
	u := &b.in.Uncertainty
	o := fluid.AirOptions{
		Pressure: quantity.AbsolutePressure(*b.c.Ambient.PressureHPa * 100), PressureU: scaled(u.AmbientPressureHPa, 100, assumedAmbientPressurePa),
		Humidity: quantity.Ratio(*b.c.Ambient.RelativeHumidityPct / 100), HumidityU: scaled(u.AmbientHumidityPct, 0.01, assumedHumidity),
	}
	if p := b.cond.LinePressureKPa; p != nil {
		o.Pressure, o.PressureU = quantity.AbsolutePressure(*p*1000), scaled(u.LinePressureKPa, 1000, assumedLinePressure**p*1000)
	}
	return fluid.NewAir(o)
}

// legs sets the fluid over each meniscus.
func (b *builder) legs(o *convert.Options) error {
	high, low := &configs.Leg{}, &configs.Leg{}
	if l := b.cond.Legs; l != nil {
		high, low = first(l.High, high), first(l.Low, low)
	}
	g := &b.in.Geometry
	over := [2]string{}
	switch g.Kind {
	case configs.LimbPair:
		over = [2]string{g.High.Over, g.Low.Over}
	case configs.InvertedUTube:
		over = [2]string{g.LineFluid, g.LineFluid}
	}
	var err error
	if o.HighOver, err = b.leg(high, over[0], b.in.Uncertainty.High); err != nil {
		return err
	}
	o.LowOver, err = b.leg(low, over[1], b.in.Uncertainty.Low)
	return err
}

// leg makes one leg. What stands over the liquid inside the instrument has the liquid's temperature; a line has that of
// the room unless it states its own.
func (b *builder) leg(l *configs.Leg, over string, own *configs.LimbUncertainty) (convert.Leg, error) {
	name, at := l.Fluid, convert.AmbientTemperature
	if name == "" && over != "" {
		name, at = over, convert.LiquidTemperature
	}
	var out convert.Leg
	var err error
	if name == "" || name == "air" {
		out.Fluid, err = b.air()
		out.LinePressure = b.cond.LinePressureKPa != nil
		at = convert.AmbientTemperature
	} else {
		out.Fluid, err = Fluid(b.c, name)
	}
	out.At = at
	if l.TemperatureC != nil {
		out.At, out.Fixed = convert.OwnTemperature, quantity.Celsius(*l.TemperatureC)
		out.FixedU = firstGiven(
			ofLimb(own, "leg_temperature_c", func(u *configs.LimbUncertainty) *float64 { return u.LegTemperatureC }),
			b.both("leg_temperature_c", b.in.Uncertainty.LegTemperatureC)).kelvins(assumedAmbientTemperatureK)
	}
	return out, err
}

// taps gives the heights of the taps in m: as stated for the limb or its line; level with the other where one alone is
// stated; level and above both scales where none is.
func (b *builder) taps(high, low *float64, top float64) (h, l float64) {
	if legs := b.cond.Legs; legs != nil {
		if legs.High != nil {
			high = first(high, legs.High.TapHeightMM)
		}
		if legs.Low != nil {
			low = first(low, legs.Low.TapHeightMM)
		}
	}
	return or(first(high, low), top*1000) / 1000, or(first(low, high), top*1000) / 1000
}

// zeroTilt is the tilt that held when the zero was taken: that of now, unless the distance to the zero mark is stated,
// which says that the zero is older than the tilt.
func (b *builder) zeroTilt(o *convert.Options) quantity.Angle {
	if b.cond.ZeroDistanceMM != nil {
		return 0
	}
	return o.Tilt
}
