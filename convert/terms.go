package convert

import (
	"fmt"
	"math"
	"strings"

	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// termKind says how the sensitivity to an input is read off an evaluation.
type termKind uint8

const (
	ofVar         termKind = iota // a variable of the shape, or gravity
	ofZeroReading                 // a position or the temperature at the zero; moves the tie where they are one
	ofTemperature                 // the liquid's temperature: shape and densities
	ofZeroTemperature
	ofTieTemperature
	ofMeniscus // a height that every reading has anew, the zero reading too
	ofLeg      // the own temperature of one leg
	ofAmbient  // the ambient temperature: densities of the gas legs
	ofFluidOwn // an input of a fluid
	ofMarks    // the marks of an engraved scale
	ofHeights  // the heights of the points of a bent tube
	ofDistances
	ofZeroDistance // of the low limb, which a tilt raises
	ofPressure     // the pressure itself: capillarity, vapour
	ofHighExtra    // what a reading brings with its positions
	ofLowExtra
)

// term is one uncertain input with the part of its sensitivity that the zero fixes.
type term struct {
	Input
	kind termKind
	v    geometry.Var // for ofVar, and the position's for ofZeroReading
	tie  geometry.Var // for ofZeroReading
	slot int          // for ofFluidOwn and ofLeg
	own  int
	u    float64 // standard uncertainty in SI, 1 where Own carries it already
	zero float64 // ∂p(zero)/∂x in SI
}

// tieIsZero says that the positions of the zero also fix the volume.
func (c *Converter) tieIsZero() bool {
	m := c.o.Shape
	return c.o.Zero != nil && !c.o.TieSeparate && (m.High.Digitized != m.Low.Digitized || m.Chambers.Ratio != 0)
}

// compile lists the uncertain inputs and computes what the zero takes from each sensitivity.
func (c *Converter) compile() error {
	o, m := &c.o, c.o.Shape
	if m.High.Digitized {
		c.addPositions("high-limb", o.U.High, c.zero.state.High, [3]geometry.Var{geometry.HighPosition, geometry.TieHighPosition, geometry.HighScaleZero})
	}
	if m.Low.Digitized {
		c.addPositions("low-limb", o.U.Low, c.zero.state.Low, [3]geometry.Var{geometry.LowPosition, geometry.TieLowPosition, geometry.LowScaleZero})
	}
	if m.High.Digitized != m.Low.Digitized && o.TieSeparate {
		names := [2]string{"high-limb position at the tie", "low-limb position at the tie"}
		if o.TieNames[0] != "" {
			names = o.TieNames
		}
		c.add(lengthTerm(names[0], o.U.High.Tie, m.Tie.High, term{v: geometry.TieHighPosition}))
		c.add(lengthTerm(names[1], o.U.Low.Tie, m.Tie.Low, term{v: geometry.TieLowPosition}))
	}
	c.add(temperatureTerm("liquid temperature", o.U.Temperature, math.NaN(), term{kind: ofTemperature}))
	if o.Zero != nil {
		c.add(temperatureTerm("liquid temperature at the zero", o.U.ZeroTemperature, o.Zero.Temperature.Celsius(), term{kind: ofZeroTemperature}))
	}
	if o.TieSeparate && m.Tie.Temperature != 0 {
		c.add(temperatureTerm("liquid temperature at the tie", o.U.TieTemperature, quantity.Temperature(m.Tie.Temperature).Celsius(), term{kind: ofTieTemperature}))
	}
	if c.anyAmbient() {
		c.add(temperatureTerm("ambient temperature", o.Ambient.TemperatureU, o.Ambient.Temperature.Celsius(), term{kind: ofAmbient}))
	}
	for _, in := range o.ShapeInputs {
		in.DOF = orInf(in.DOF)
		kind := map[ShapeOf]termKind{OfVar: ofVar, OfMarks: ofMarks, OfPointHeights: ofHeights, OfPointDistances: ofDistances, OfZeroDistance: ofZeroDistance, OfCapillary: ofPressure}[in.Of]
		c.add(term{Input: in.Input, kind: kind, v: in.Var, u: in.U * in.Scale})
	}
	if o.Sealed != nil {
		u := o.Sealed.VapourU
		c.add(term{Input: Input{Name: "pressure over the closed surface", Unit: "Pa", Value: math.NaN(), U: u.U, DOF: orInf(u.DOF), Assumed: u.Assumed}, kind: ofPressure, u: u.U})
	}
	c.add(term{Input: Input{Name: "local gravity", Unit: "m/s²", Value: float64(o.Gravity.Value), U: o.Gravity.U, DOF: math.Inf(1),
		Assumed: o.Gravity.Assumed}, v: geometry.Gravity, u: o.Gravity.U})
	for i := range c.slots[:c.n] {
		c.addFluid(i)
	}
	return c.finish()
}

func (c *Converter) add(t term) { c.terms = append(c.terms, t) }

// addPositions adds the inputs that belong to one digitized limb; vars are its position, tie and scale-zero variables.
func (c *Converter) addPositions(limb string, u LimbUncertainties, zero float64, vars [3]geometry.Var) {
	c.add(lengthTerm(limb+" position", u.Position, math.NaN(), term{v: vars[0]}))
	if step := c.o.U.Resolution; step > 0 {
		// Rectangular, one step wide. Source: JCGM 100:2008, F.2.2.1.
		r := Stated[quantity.Length]{U: step / quantity.Length(math.Sqrt(12))}
		c.add(lengthTerm(limb+" resolution", r, math.NaN(), term{v: vars[0]}))
	}
	if c.o.U.Meniscus.U != 0 {
		c.add(lengthTerm(limb+" meniscus height", c.o.U.Meniscus, math.NaN(), term{kind: ofMeniscus, v: vars[2]}))
	}
	if x := u.Extra; x != nil {
		kind := ofLowExtra
		if vars[0] == geometry.HighPosition {
			kind = ofHighExtra
		}
		c.add(lengthTerm(limb+" position "+x.Name, Stated[quantity.Length]{U: x.Typical.U, DOF: x.Typical.DOF}, math.NaN(), term{kind: kind, v: vars[0]}))
	}
	if c.o.Zero != nil {
		c.add(lengthTerm(limb+" position at the zero", u.Zero, zero, term{kind: ofZeroReading, v: vars[0], tie: vars[1]}))
	}
}

// addFluid adds the own inputs of one fluid, and the temperature of a leg that has its own.
func (c *Converter) addFluid(i int) {
	s := &c.slots[i]
	name := s.leg.Fluid.Name()
	if s.leg.At == OwnTemperature {
		c.add(temperatureTerm(name+" leg temperature", s.leg.FixedU, s.leg.Fixed.Celsius(), term{kind: ofLeg, slot: i}))
	}
	if s.same != i {
		return // its own inputs stand with the first
	}
	for k, in := range s.leg.Fluid.Inputs() {
		title := in.Name
		if !strings.HasPrefix(title, name) {
			title = name + " " + title
		}
		c.add(term{Input: Input{Name: title, Unit: in.Unit, Value: in.Value, U: in.U, DOF: math.Inf(1), Assumed: in.Assumed},
			kind: ofFluidOwn, slot: i, own: k, u: 1})
	}
}

// finish checks the list and fixes the part of the zero.
func (c *Converter) finish() error {
	if len(c.terms) > MaxInputs {
		return fmt.Errorf("instrument %s has %d uncertain inputs; at most %d are possible", c.o.Instrument, len(c.terms), MaxInputs)
	}
	for i := range c.terms {
		t := &c.terms[i]
		if !finite(t.u) || !(t.U >= 0) || !(t.DOF >= 1) {
			return fmt.Errorf("%s: standard uncertainty %v %s with %v degrees of freedom; allowed: 0 or more, with 1 or more", t.Name, t.U, t.Unit, t.DOF)
		}
		if c.o.Zero != nil {
			t.zero = c.zeroPart(t)
		}
		c.dof[i] = t.DOF
		c.anyT = c.anyT || !math.IsInf(t.DOF, 1) || t.kind == ofHighExtra || t.kind == ofLowExtra
	}
	return nil
}

func lengthTerm(name string, u Stated[quantity.Length], at float64, t term) term {
	t.Input = Input{Name: name, Unit: "mm", Value: at * 1000, U: float64(u.U) * 1000, DOF: orInf(u.DOF), Assumed: u.Assumed}
	t.u = float64(u.U)
	return t
}

func temperatureTerm(name string, u Stated[quantity.TemperatureDifference], celsius float64, t term) term {
	t.Input = Input{Name: name, Unit: "°C", Value: celsius, U: float64(u.U), DOF: orInf(u.DOF), Assumed: u.Assumed}
	t.u = float64(u.U)
	return t
}

func orInf(dof float64) float64 {
	if dof == 0 {
		return math.Inf(1)
	}
	return dof
}

// anyAmbient says whether a leg is at the ambient temperature.
func (c *Converter) anyAmbient() bool {
	for i := range c.slots[:c.n] {
		if c.slots[i].leg.At == AmbientTemperature {
			return true
		}
	}
	return false
}

// zeroPart is ∂p(zero)/∂x: what the subtracted zero takes away from the sensitivity to an input.
func (c *Converter) zeroPart(t *term) float64 {
	z := &c.zero
	switch t.kind {
	case ofVar:
		if t.v == geometry.HighPosition || t.v == geometry.LowPosition {
			return 0 // the position now is another reading than that of the zero
		}
	case ofTemperature, ofMeniscus, ofHeights, ofDistances, ofPressure, ofHighExtra, ofLowExtra:
		return 0
	case ofZeroReading:
		p := z.eval.Grad[t.v]
		if c.tieIsZero() {
			p += z.eval.Grad[t.tie]
		}
		return p
	case ofZeroTemperature:
		p := c.temperature(z)
		if c.tieIsZero() {
			p += tieTemperature(z)
		}
		return p
	}
	return c.part(t, z)
}

// part is ∂p/∂x of one evaluation, before the zero is subtracted.
func (c *Converter) part(t *term, e *evaluation) float64 {
	switch t.kind {
	case ofVar, ofHighExtra, ofLowExtra:
		return e.eval.Grad[t.v]
	case ofMeniscus: // drawn anew by the reading and by the zero
		return math.Hypot(e.eval.Grad[t.v], c.zero.eval.Grad[t.v])
	case ofPressure:
		return 1
	case ofMarks:
		return e.eval.Grad[geometry.LowPosition]*e.state.Low + e.eval.Grad[geometry.TieLowPosition]*c.o.Shape.Tie.Low
	case ofHeights, ofDistances:
		m := c.o.Shape
		tie := m.Tie.Low * (1 + m.ScaleExpansion*(m.Tie.Temperature-m.ScaleReference))
		return e.eval.Grad[geometry.LowScaleZero] * math.Sqrt(m.Low.Profile.Weights(e.eval.LowX, tie, t.kind == ofDistances))
	case ofZeroDistance: // z = D sin δ cos γ
		return e.eval.Grad[geometry.LowScaleZero] * math.Sin(e.state.Tilt) * math.Cos(c.o.Shape.CrossTilt)
	case ofLeg:
		return c.slots[t.slot].byDensity(e) * e.fluids[t.slot].PerKelvin
	case ofZeroReading:
		if c.tieIsZero() {
			return e.eval.Grad[t.tie]
		}
		return 0
	case ofTemperature:
		return c.temperature(e)
	case ofZeroTemperature:
		if c.tieIsZero() {
			return tieTemperature(e)
		}
		return 0
	case ofTieTemperature:
		return tieTemperature(e)
	case ofAmbient:
		return c.thermal(e, AmbientTemperature)
	case ofFluidOwn:
		p := 0.0
		for j := t.slot; j < c.n; j++ {
			s := &c.slots[j]
			if s.same != t.slot {
				continue
			}
			p += s.byDensity(e) * e.fluids[j].Own[t.own]
			if s.roles[geometry.RoleLiquid] {
				p += e.eval.Grad[geometry.TieLiquidDensity] * e.tie.Own[t.own]
			}
		}
		return p
	}
	return 0
}

// byDensity is ∂p/∂ρ over all the columns a fluid fills.
func (s *slot) byDensity(e *evaluation) float64 {
	d := 0.0
	if s.roles[geometry.RoleLiquid] {
		d += e.eval.Grad[geometry.LiquidDensity]
	}
	if s.roles[geometry.RoleHighOver] {
		d += e.eval.Grad[geometry.HighOverDensity]
	}
	if s.roles[geometry.RoleLowOver] {
		d += e.eval.Grad[geometry.LowOverDensity]
	}
	if s.roles[geometry.RoleLine] {
		d += e.eval.Grad[geometry.LineDensity]
	}
	return d
}

// thermal is ∂p/∂t through the densities of the fluids at that temperature.
func (c *Converter) thermal(e *evaluation, at LegTemperature) float64 {
	p := 0.0
	for i := range c.slots[:c.n] {
		if s := &c.slots[i]; s.leg.At == at {
			p += s.byDensity(e) * e.fluids[i].PerKelvin
		}
	}
	return p
}

// temperature is ∂p/∂t of the liquid's temperature.
func (c *Converter) temperature(e *evaluation) float64 {
	return e.eval.Grad[geometry.Temperature] + c.thermal(e, LiquidTemperature) + e.vapourPerKelvin
}

// tieTemperature is ∂p/∂t′ of the liquid's temperature at the tie.
func tieTemperature(e *evaluation) float64 {
	return e.eval.Grad[geometry.TieTemperature] + e.eval.Grad[geometry.TieLiquidDensity]*e.tie.PerKelvin
}

// Inputs lists the uncertain inputs in the order of Result.Contributions. The slice is a copy.
func (c *Converter) Inputs() []Input {
	in := make([]Input, len(c.terms))
	for i := range c.terms {
		in[i] = c.terms[i].Input
	}
	return in
}
