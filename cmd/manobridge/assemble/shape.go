package assemble

import (
	"fmt"
	"math"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// Positions says which limbs an instrument reads: those its frames carry; without a port, those of its zero, or for a
// limb pair with a tie the one that is not the reservoir.
func Positions(c *configs.Config, in *configs.Instrument) (high, low bool) {
	switch in.Geometry.Kind {
	case configs.InclinedReservoir, configs.Profile, configs.Graduated:
		return false, true
	case configs.Sealed:
		g := &in.Geometry
		return g.Cistern == "" && g.CisternBoreMM == nil && g.NeutralMM == nil && !g.ScaleCompensated, true
	}
	if p := Port(c, in); p != nil {
		return in.Delivers(p, "high_mm"), in.Delivers(p, "low_mm")
	}
	if in.Tie != nil {
		high = in.Geometry.Low.Reservoir
		return high, !high
	}
	if z := in.Zero; z != nil && in.Geometry.Kind == configs.UTube {
		return z.HighMM != nil, z.LowMM != nil
	}
	return true, true
}

// shape builds the geometry and lists its uncertain inputs.
func (b *builder) shape(o *convert.Options) error {
	high, low := Positions(b.c, b.in)
	var err error
	switch b.in.Geometry.Kind {
	case configs.UTube:
		b.uTube(o, high, low)
	case configs.InclinedReservoir:
		b.reservoir(o)
	case configs.LimbPair:
		b.limbPair(o, high, low)
		err = b.pairCapillary(o, &b.in.Geometry)
	case configs.InvertedUTube:
		b.inverted(o)
	case configs.TwoLiquid:
		err = b.twoLiquid(o)
	case configs.Profile:
		err = b.profile(o)
	case configs.Sealed:
		err = b.sealed(o)
	case configs.Graduated:
		err = b.graduated(o)
	default:
		err = fmt.Errorf("kind %q is not known", b.in.Geometry.Kind)
	}
	if err != nil {
		return err
	}
	b.common(o)
	return nil
}

// input adds one uncertain input of the shape. u is what was stated for it, scale the change of the variable in SI for one
// unit of the input.
func (b *builder) input(o *convert.Options, v geometry.Var, name, unit string, value float64, u given, otherwise, scale float64) {
	o.ShapeInputs = append(o.ShapeInputs, convert.ShapeInput{
		Input: convert.Input{Name: name, Unit: unit, Value: value, U: or(u.u, otherwise), DOF: u.dof, Assumed: u.u == nil},
		Var:   v, Scale: scale,
	})
}

// bores adds the two bores of an area ratio q = (d/D)²: ∂q/∂d = 2q/d and ∂q/∂D = −2q/D.
func (b *builder) bores(o *convert.Options, d, wide bore) {
	q := d.mm * d.mm / (wide.mm * wide.mm)
	b.input(o, geometry.AreaRatio, d.name, "mm", d.mm, d.given, assumedBore*d.mm, 2*q/d.mm)
	b.input(o, geometry.AreaRatio, wide.name, "mm", wide.mm, wide.given, assumedBore*wide.mm, -2*q/wide.mm)
}

// bore is one bore with what was stated of its uncertainty.
type bore struct {
	name string
	mm   float64
	given
}

// above is a height over every mark of the scales, for taps that are not given: level, in gas that cancels.
func above(scales ...*[2]float64) float64 {
	top := 0.0
	for _, s := range scales {
		if s != nil {
			top = math.Max(top, math.Max(math.Abs(s[0]), math.Abs(s[1])))
		}
	}
	return (top*2 + 100) / 1000
}

func (b *builder) uTube(o *convert.Options, high, low bool) {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	hb, lb := first(g.HighBoreMM, g.BoreMM), first(g.LowBoreMM, g.BoreMM)
	tapHigh, tapLow := b.taps(nil, nil, above(g.ScaleMM))
	o.Shape = geometry.UTube(*hb/1000, *lb/1000, tapHigh, tapLow, high, low)
	if high == low {
		return
	}
	o.Shape.Tie = geometry.Tie{Level: true, Temperature: float64(quantity.Celsius(*b.in.Zero.TemperatureC))}
	o.Shape.Tie.High, o.Shape.Tie.Low = or(b.in.Zero.HighMM, 0)/1000, or(b.in.Zero.LowMM, 0)/1000
	hi := bore{"high-limb bore", *hb, firstGiven(b.both("high_bore_mm", u.HighBoreMM), b.both("bore_mm", u.BoreMM))}
	lo := bore{"low-limb bore", *lb, firstGiven(b.both("low_bore_mm", u.LowBoreMM), b.both("bore_mm", u.BoreMM))}
	if low {
		b.bores(o, lo, hi)
	} else {
		b.bores(o, hi, lo)
	}
}

func (b *builder) reservoir(o *convert.Options) {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	ratio := b.ratio(o)
	// With the ratio given the bore itself moves nothing; any will do.
	boreMM := or(g.BoreMM, 4)
	slope := b.slope(o, geometry.LowSlope, "slope", g.SlopeDeg, g.SlopeRatio, b.both("slope_deg", u.SlopeDeg), b.both("slope_ratio", u.SlopeRatio))
	tapHigh, tapLow := b.taps(nil, nil, above(g.ScaleMM))
	o.Shape = geometry.Reservoir(slope, boreMM/1000, ratio, tapHigh, tapLow)
	o.Shape.Tie.Low = *b.in.Zero.LowMM / 1000
	o.Shape.Tie.Temperature = float64(quantity.Celsius(*b.in.Zero.TemperatureC))
}

// ratio gives the area ratio of a reservoir instrument and adds its inputs: as stated, or from the two bores.
func (b *builder) ratio(o *convert.Options) float64 {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	if r := g.AreaRatio; r != nil {
		b.input(o, geometry.AreaRatio, "area ratio", "1", *r, b.both("area_ratio", u.AreaRatio), 2*assumedBore**r, 1)
		return *r
	}
	b.bores(o, bore{"bore", *g.BoreMM, b.both("bore_mm", u.BoreMM)}, bore{"reservoir bore", *g.ReservoirBoreMM, b.both("reservoir_bore_mm", u.ReservoirBoreMM)})
	return math.Pow(*g.BoreMM / *g.ReservoirBoreMM, 2)
}

// slope gives the angle in rad and adds its input, as an angle or as rise over length: dθ = dr/cos θ.
func (b *builder) slope(o *convert.Options, v geometry.Var, name string, deg, ratio *float64, uDeg, uRatio given) float64 {
	if ratio != nil && deg == nil {
		theta := math.Asin(*ratio)
		if *ratio == 1 {
			if uRatio.u != nil { // sin θ = 1 − δ²/2 near upright
				deg := math.Sqrt(2**uRatio.u) * 180 / math.Pi
				uRatio.u = &deg
			}
			b.input(o, v, name, "°", 90, uRatio, assumedSlopeDeg, math.Pi/180)
			return theta
		}
		b.input(o, v, name, "1", *ratio, uRatio, math.Cos(theta)*assumedSlopeDeg*math.Pi/180, 1/math.Cos(theta))
		return theta
	}
	theta := float64(quantity.Degrees(or(deg, 90)))
	b.input(o, v, name, "°", or(deg, 90), uDeg, assumedSlopeDeg, math.Pi/180)
	return theta
}

func (b *builder) limbPair(o *convert.Options, high, low bool) {
	g, u := &b.in.Geometry, &b.in.Uncertainty
	h := b.limb(o, "high-limb", g.High, u.High, high, geometry.HighSlope, geometry.HighScaleZero, geometry.HighTap)
	l := b.limb(o, "low-limb", g.Low, u.Low, low, geometry.LowSlope, geometry.LowScaleZero, geometry.LowTap)
	top := above(g.High.ScaleMM, g.Low.ScaleMM) + math.Max(h.ScaleZero, l.ScaleZero)
	h.Tap, l.Tap = b.taps(g.High.TapHeightMM, g.Low.TapHeightMM, top)
	tie := geometry.Tie{}
	switch t, z := b.in.Tie, b.in.Zero; {
	case t != nil:
		tie = geometry.Tie{High: *t.HighMM / 1000, Low: *t.LowMM / 1000, Temperature: float64(quantity.Celsius(*t.TemperatureC))}
		o.TieSeparate = true
	case z != nil:
		tie = geometry.Tie{High: or(z.HighMM, 0) / 1000, Low: or(z.LowMM, 0) / 1000, Temperature: float64(quantity.Celsius(*z.TemperatureC))}
	}
	o.Shape = geometry.LimbPair(h, l, tie)
	if high == low {
		return
	}
	ofBore := func(own *configs.LimbUncertainty) given {
		return firstGiven(ofLimb(own, "bore_mm", func(u *configs.LimbUncertainty) *float64 { return u.BoreMM }), b.both("bore_mm", u.BoreMM))
	}
	hi := bore{"high-limb bore", *g.High.BoreMM, ofBore(u.High)}
	lo := bore{"low-limb bore", *g.Low.BoreMM, ofBore(u.Low)}
	if low {
		b.bores(o, lo, hi)
	} else {
		b.bores(o, hi, lo)
	}
}

// limb builds one limb of a pair and adds the inputs that are its own.
func (b *builder) limb(o *convert.Options, name string, l *configs.Limb, own *configs.LimbUncertainty, digitized bool, slope, zero, tap geometry.Var) geometry.Limb {
	u := &b.in.Uncertainty
	out := geometry.Limb{Digitized: digitized, BoreArea: geometry.BoreArea(*l.BoreMM / 1000), Slope: math.Pi / 2,
		ScaleZero: or(l.ScaleZeroHeightMM, 0) / 1000}
	if !l.Reservoir {
		out.Slope = b.slope(o, slope, name+" slope", l.SlopeDeg, l.SlopeRatio,
			firstGiven(ofLimb(own, "slope_deg", func(u *configs.LimbUncertainty) *float64 { return u.SlopeDeg }), b.both("slope_deg", u.SlopeDeg)),
			firstGiven(ofLimb(own, "slope_ratio", func(u *configs.LimbUncertainty) *float64 { return u.SlopeRatio }), b.both("slope_ratio", u.SlopeRatio)))
	}
	b.input(o, zero, name+" scale zero height", "mm", or(l.ScaleZeroHeightMM, 0), firstGiven(
		ofLimb(own, "scale_zero_height_mm", func(u *configs.LimbUncertainty) *float64 { return u.ScaleZeroHeightMM }),
		b.both("scale_zero_height_mm", u.ScaleZeroHeightMM)), assumedHeightMM, 1e-3)
	if l.TapHeightMM != nil {
		b.input(o, tap, name+" tap height", "mm", *l.TapHeightMM, b.tapHeight(own), assumedHeightMM, 1e-3)
	}
	return out
}

// tapHeight is the uncertainty of a tap's height: of its limb where stated, else that of both.
func (b *builder) tapHeight(own *configs.LimbUncertainty) given {
	return firstGiven(ofLimb(own, "tap_height_mm", func(u *configs.LimbUncertainty) *float64 { return u.TapHeightMM }),
		b.both("tap_height_mm", b.in.Uncertainty.TapHeightMM))
}

// common sets what every kind may have: scale, tilt, charge, and the taps of the lines.
func (b *builder) common(o *convert.Options) {
	m, k, u := o.Shape, &b.cond, &b.in.Uncertainty
	// An engraved scale is true at the temperature it was made for.
	m.ScaleReference = float64(quantity.Celsius(or(first(k.ScaleReferenceC, b.in.Geometry.ScaleTemperatureC), 20)))
	m.ScaleExpansion = or(k.ScaleExpansionPerK, 0)
	b.input(o, geometry.ScaleExpansion, "scale expansion", "1/K", m.ScaleExpansion, b.both("scale_expansion_per_k", u.ScaleExpansionPerK), assumedScaleExpansionPerK, 1)

	o.Tilt = quantity.Degrees(or(k.TiltDeg, 0))
	m.CrossTilt = float64(quantity.Degrees(or(k.CrossTiltDeg, 0)))
	if d := k.ZeroDistanceMM; d != nil {
		m.Low.ZeroDistance = math.Max(*d, 1e-6) / 1000 // 0 would say that it is not known
	}
	if k.TiltDeg != nil || u.TiltDeg != nil || k.ZeroDistanceMM != nil {
		b.input(o, geometry.Tilt, "tilt", "°", or(k.TiltDeg, 0), b.both("tilt_deg", u.TiltDeg), assumedTiltDeg, math.Pi/180)
	}
	if k.CrossTiltDeg != nil || u.CrossTiltDeg != nil {
		b.input(o, geometry.CrossTilt, "cross tilt", "°", or(k.CrossTiltDeg, 0), b.both("cross_tilt_deg", u.CrossTiltDeg), assumedTiltDeg, math.Pi/180)
	}
	if d := k.ZeroDistanceMM; d != nil {
		u := b.both("zero_distance_mm", u.ZeroDistanceMM)
		o.ShapeInputs = append(o.ShapeInputs, convert.ShapeInput{Of: convert.OfZeroDistance, Scale: 1e-3, Input: convert.Input{
			Name: "distance of the zero mark", Unit: "mm", Value: *d, U: or(u.u, assumedHeightMM), DOF: u.dof, Assumed: u.u == nil}})
	}
	if k.ChargeML != nil {
		m.ChargeVolume, m.BodyExpansion = *k.ChargeML*1e-6, or(k.BodyExpansionPerK, 0)
		b.input(o, geometry.ChargeVolume, "charge volume", "mL", *k.ChargeML, b.both("charge_ml", u.ChargeML), assumedRelative**k.ChargeML, 1e-6)
		b.input(o, geometry.BodyExpansion, "body expansion", "1/K", m.BodyExpansion, b.both("body_expansion_per_k", u.BodyExpansionPerK), assumedScaleExpansionPerK, 1)
	}
	if l := k.Legs; l != nil {
		for _, side := range []struct {
			leg *configs.Leg
			own *configs.LimbUncertainty
			v   geometry.Var
			who string
		}{{l.High, u.High, geometry.HighTap, "high"}, {l.Low, u.Low, geometry.LowTap, "low"}} {
			if side.leg == nil || side.leg.TapHeightMM == nil {
				continue
			}
			b.input(o, side.v, side.who+" tap height", "mm", *side.leg.TapHeightMM, b.tapHeight(side.own), assumedHeightMM, 1e-3)
		}
	}
}
