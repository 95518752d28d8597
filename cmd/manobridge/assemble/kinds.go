package assemble

import (
	"errors"
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// inverted builds an inverted U-tube; its taps lie below both scales unless stated.
func (b *builder) inverted(o *convert.Options) {
	g := &b.in.Geometry
	hb, lb := first(g.HighBoreMM, g.BoreMM), first(g.LowBoreMM, g.BoreMM)
	high, low := b.taps(nil, nil, -above(g.ScaleMM))
	o.Shape = geometry.InvertedUTube(*hb/1000, *lb/1000, high, low)
	o.Shape.Tie.Temperature = float64(quantity.Celsius(*b.in.Zero.TemperatureC))
}

// twoLiquid builds a two-liquid instrument. Its chambers hold the chamber liquid under the line fluid.
func (b *builder) twoLiquid(o *convert.Options) error {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	o.Shape = geometry.TwoLiquid(*g.TubeBoreMM/1000, *g.ChamberBoreMM/1000, above(g.ScaleMM))
	z := b.in.Zero
	o.Shape.Tie = geometry.Tie{High: *z.HighMM / 1000, Low: *z.LowMM / 1000, Temperature: float64(quantity.Celsius(*z.TemperatureC))}
	chamber, err := Fluid(b.c, g.ChamberLiquid)
	if err != nil {
		return err
	}
	o.HighOver = convert.Leg{Fluid: chamber, At: convert.LiquidTemperature}
	o.LowOver = o.HighOver
	if o.Line, err = b.leg(&configs.Leg{Fluid: g.LineFluid}, "", nil); err != nil {
		return err
	}
	q := math.Pow(*g.TubeBoreMM / *g.ChamberBoreMM, 2)
	b.input(o, geometry.ChamberRatio, "tube bore", "mm", *g.TubeBoreMM, b.both("tube_bore_mm", u.TubeBoreMM), assumedBore**g.TubeBoreMM, 2*q / *g.TubeBoreMM)
	b.input(o, geometry.ChamberRatio, "chamber bore", "mm", *g.ChamberBoreMM, b.both("chamber_bore_mm", u.ChamberBoreMM), assumedBore**g.ChamberBoreMM, -2*q / *g.ChamberBoreMM)
	return nil
}

// profile builds a reservoir instrument with a bent tube.
func (b *builder) profile(o *convert.Options) error {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	along, height := make([]float64, len(g.Points)), make([]float64, len(g.Points))
	for i, p := range g.Points {
		along[i], height[i] = p[0]/1000, p[1]/1000
	}
	bent, err := geometry.NewProfile(along, height)
	if err != nil {
		return err
	}
	ratio := b.ratio(o)
	high, low := b.taps(nil, nil, above(g.ScaleMM)+height[len(height)-1])
	o.Shape = geometry.BentReservoir(bent, or(g.BoreMM, 4)/1000, ratio, high, low)
	o.Shape.Tie.Low = *b.in.Zero.LowMM / 1000
	o.Shape.Tie.Temperature = float64(quantity.Celsius(*b.in.Zero.TemperatureC))
	b.points(o, "height of each point", "point_height_mm", convert.OfPointHeights, u.PointHeightMM)
	b.points(o, "distance of each point", "point_along_mm", convert.OfPointDistances, u.PointAlongMM)
	return nil
}

// points adds the common uncertainty of the points of a bent tube, each independent of the others.
func (b *builder) points(o *convert.Options, name, key string, of convert.ShapeOf, u *float64) {
	o.ShapeInputs = append(o.ShapeInputs, convert.ShapeInput{Of: of, Scale: 1e-3, Input: convert.Input{
		Name: name, Unit: "mm", Value: math.NaN(), U: or(u, assumedHeightMM), DOF: b.in.Uncertainty.DOF[key], Assumed: u == nil}})
}

// graduated builds an engraved scale: marks become heights of the liquid it was made for.
func (b *builder) graduated(o *convert.Options) error {
	g, u, z := &b.in.Geometry, &b.in.Uncertainty, b.in.Zero
	unit, err := quantity.ParseDifferentialPressure("1 " + g.Unit)
	if err != nil {
		return err
	}
	design := *g.LiquidDensityKgM3
	gas, gravity := or(g.ScaleGasDensityKgM3, 0), or(g.GravityMS2, standardGravity)
	mark := geometry.MarkHeight(unit.SI, design, gas, gravity)
	if math.IsNaN(mark) {
		return fmt.Errorf("a scale made for %g kg/m³ under %g kg/m³ cannot be", design, gas)
	}
	o.Engraved = &convert.Engraved{Unit: g.Unit, PerUnit: mark}
	top := 10.0 // m; level taps in one gas cancel
	if s := g.Scale; s != nil {
		top = 2*math.Max(math.Abs(s[0]), math.Abs(s[1]))*mark + 0.1
	}
	high, low := b.taps(nil, nil, top)
	o.Shape = geometry.Graduated(math.Max(high, low))
	o.Shape.Tie.Low = or(z.Reading, 0) * mark
	o.Shape.Tie.Temperature = float64(quantity.Celsius(*z.TemperatureC))
	o.LowScale = convert.Span{Low: math.Inf(-1), High: math.Inf(1)}
	if s := g.Scale; s != nil {
		o.LowScale = convert.Span{Low: s[0] * mark, High: s[1] * mark}
	}
	o.Zero.Low = quantity.Metres(o.Shape.Tie.Low)
	marks := func(v given, otherwise float64) convert.Stated[quantity.Length] {
		return convert.Stated[quantity.Length]{U: quantity.Metres(or(v.u, otherwise) * mark), DOF: v.dof, Assumed: v.u == nil}
	}
	reading := assumedMark
	if s := g.Scale; s != nil {
		reading = assumedMark * (s[1] - s[0])
	}
	now := b.both("reading", u.Reading)
	o.U.Low.Position = marks(now, reading)
	o.U.Low.Zero = marks(firstGiven(b.both("zero_reading", u.ZeroReading), now), reading)
	o.U.Low.Zero.Assumed = u.ZeroReading == nil
	share := func(name, unit, key string, value float64, stated *float64, otherwise, scale float64) {
		o.ShapeInputs = append(o.ShapeInputs, convert.ShapeInput{Of: convert.OfMarks, Scale: scale, Input: convert.Input{
			Name: name, Unit: unit, Value: value, U: or(stated, otherwise), DOF: u.DOF[key], Assumed: stated == nil}})
	}
	share("density the scale was made for", "kg/m³", "liquid_density_kg_m3", design, u.LiquidDensityKgM3, 1e-3*design, -1/(design-gas))
	share("gas density the scale was made for", "kg/m³", "scale_gas_density_kg_m3", gas, u.ScaleGasDensityKgM3, 0.7, 1/(design-gas))
	if t := g.ScaleTemperatureC; t != nil && b.cond.ScaleExpansionPerK != nil {
		// A scale made for another temperature has all its marks α (t₀ − t) elsewhere.
		share("temperature the scale was made for", "°C", "scale_temperature_c", *t, u.ScaleTemperatureC, assumedTemperatureK, -or(b.cond.ScaleExpansionPerK, 0))
	}
	share("gravity the scale was made for", "m/s²", "gravity_m_s2", gravity, u.GravityMS2, 0, -1/gravity)
	return nil
}

// sealed builds an instrument closed over vapour.
func (b *builder) sealed(o *convert.Options) error {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	cistern := geometry.NoCistern
	switch {
	case g.Cistern == "adjustable" || g.ScaleCompensated:
		cistern = geometry.AdjustableCistern
	case g.CisternBoreMM != nil:
		cistern = geometry.FixedCistern
	}
	highBore := or(g.CisternBoreMM, *g.BoreMM)
	top := above(g.ScaleMM)
	high, _ := b.taps(nil, nil, top)
	ratio := math.Pow(*g.BoreMM/highBore, 2)
	o.Shape = geometry.Sealed(highBore/1000, *g.BoreMM/1000, ratio, or(g.NeutralMM, 0)/1000, high, cistern)
	o.Shape.Low.Tap = top
	if b.in.Liquid == "water" {
		return errors.New("kind sealed cannot have water: its vapour over the closed surface has kilopascals (2.3 kPa at 20 °C) and is not computed")
	}
	if b.in.Liquid != "mercury" && u.VapourPressurePa == nil {
		return fmt.Errorf("the pressure of the vapour of %s over the closed surface is not known here, and is taken as nothing: "+
			"state uncertainty.vapour_pressure_pa in Pa, no less than it may be", b.in.Liquid)
	}
	vapour := fluid.Vapour(b.in.Liquid)
	o.LowOver = convert.Leg{Fluid: vapour, At: convert.LiquidTemperature}
	if l := b.cond.Legs; l == nil || l.High == nil {
		// No line is stated: the pressure is that at the open surface itself.
		o.HighOver = o.LowOver
	}
	o.Sealed = &convert.Sealed{Vapour: b.vapour(), VapourU: convert.Stated[float64]{U: or(u.VapourPressurePa, assumedVapourPa), DOF: u.DOF["vapour_pressure_pa"], Assumed: u.VapourPressurePa == nil}}
	if cistern != geometry.NoCistern {
		o.TieSeparate = true
		o.HighScale = convert.Span{} // the cistern has none
		o.TieNames = [2]string{"setting of the cistern", "neutral reading"}
		o.Shape.Tie.Temperature = float64(quantity.Celsius(or(b.cond.ScaleReferenceC, 20)))
		o.U.High.Tie = b.both("cistern_setting_mm", u.CisternSettingMM).length(assumedPositionMM / 5)
		o.U.Low.Tie = b.both("neutral_mm", u.NeutralMM).length(assumedHeightMM)
		o.U.TieTemperature = convert.Stated[quantity.TemperatureDifference]{}
	}
	if cistern == geometry.FixedCistern {
		b.bores(o, bore{"bore", *g.BoreMM, b.both("bore_mm", u.BoreMM)}, bore{"cistern bore", highBore, b.both("cistern_bore_mm", u.CisternBoreMM)})
	}
	if cistern != geometry.NoCistern && g.CisternBoreMM == nil {
		highBore = math.Inf(1)
	}
	return b.capillary(o, *g.BoreMM/1000, highBore/1000)
}

// vapour gives the vapour pressure over a closed surface. That of a liquid of the file is not known: it is taken as
// nothing, within the uncertainty stated for it.
func (b *builder) vapour() func(quantity.Temperature) (float64, float64) {
	if b.in.Liquid != "mercury" {
		return func(quantity.Temperature) (float64, float64) { return 0, 0 }
	}
	return func(t quantity.Temperature) (float64, float64) {
		at := func(t quantity.Temperature) float64 {
			p, _, err := fluid.MercuryVapourPressure(t)
			if err != nil {
				return 0 // below the formula's range mercury has less than a millipascal
			}
			return float64(p)
		}
		return at(t), at(t+0.5) - at(t-0.5)
	}
}
