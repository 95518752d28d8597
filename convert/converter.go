package convert

import (
	"errors"
	"fmt"
	"math"

	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
	"manobridge/convert/uncertainty"
)

// normalFactor is the coverage factor at infinite degrees of freedom: 2, as DefaultP is the probability of two standard
// deviations of a normal distribution. Source: JCGM 100:2008, table G.1.
const normalFactor = 2.0

// Converter turns the readings of one instrument into results. It remembers nothing between readings and is safe for
// concurrent use.
type Converter struct {
	o     Options
	slots [4]slot // the fluids, each once, however many columns it fills
	n     int     // of slots
	terms []term
	zero  evaluation
	cover *uncertainty.Coverage // nil where every input's degrees of freedom are infinite
	dof   [MaxInputs]float64
	anyT  bool // whether any input has finite degrees of freedom
}

// slot is one fluid in one place, with the columns it fills.
type slot struct {
	leg   Leg
	roles [geometry.NumRoles]bool // by geometry.Role
	same  int                     // index of the first slot with the same fluid, whose own inputs it shares
}

// evaluation is the instrument at one state: the geometry's answer and the fluids'.
type evaluation struct {
	state  geometry.State
	eval   geometry.Eval
	fluids [4]fluid.State
	tie    fluid.State // the liquid at the tie

	vapour, vapourPerKelvin float64 // Pa, over the closed surface of a sealed instrument
}

// New checks the options and computes what does not change: the zero, and its part of every sensitivity. A mistake in
// the options is an error with its reason.
func New(o Options) (*Converter, error) {
	c := &Converter{o: o}
	if o.Shape == nil || o.Liquid == nil || o.HighOver.Fluid == nil || o.LowOver.Fluid == nil {
		return nil, errors.New("an instrument needs a shape, a liquid and a fluid in each leg")
	}
	if err := o.Shape.Check(); err != nil {
		return nil, err
	}
	if g := float64(o.Gravity.Value); !(g > 9.7 && g < 9.9) {
		return nil, fmt.Errorf("local gravity %g m/s² is outside 9.7 to 9.9 m/s²", g)
	}
	c.addSlot(Leg{Fluid: o.Liquid, At: LiquidTemperature, LinePressure: o.LiquidAtLine}, geometry.RoleLiquid)
	c.addSlot(o.HighOver, geometry.RoleHighOver)
	c.addSlot(o.LowOver, geometry.RoleLowOver)
	if o.Line.Fluid != nil {
		c.addSlot(o.Line, geometry.RoleLine)
	}
	if err := c.evaluateZero(); err != nil {
		return nil, err
	}
	if err := c.compile(); err != nil {
		return nil, err
	}
	if c.anyT { // the quantiles of Student's distribution take a while
		cover, err := uncertainty.NewCoverage(uncertainty.DefaultP)
		if err != nil {
			return nil, err
		}
		c.cover = cover
	}
	return c, nil
}

// addSlot files a fluid once: the same fluid at the same temperature is the same input wherever it stands. Two lines that
// state their own temperatures are two inputs, also where the two are equal: each was measured, or guessed, by itself.
func (c *Converter) addSlot(l Leg, r geometry.Role) {
	for i := range c.slots[:c.n] {
		s := &c.slots[i]
		if l.At != OwnTemperature && s.leg.At == l.At && s.leg.LinePressure == l.LinePressure && s.leg.Fluid.Name() == l.Fluid.Name() {
			s.roles[r] = true
			return
		}
	}
	s := slot{leg: l, same: c.n}
	for i := range c.slots[:c.n] {
		if o := c.slots[i].leg; o.Fluid.Name() == l.Fluid.Name() && o.LinePressure == l.LinePressure {
			s.same = i
			break
		}
	}
	s.roles[r] = true
	c.slots[c.n] = s
	c.n++
}

// conditions are the temperatures and the air that hold for one evaluation.
type conditions struct {
	liquid, ambient quantity.Temperature
	pressure        Optional[quantity.AbsolutePressure] // of the air, where live
	humidity        Optional[quantity.Ratio]
}

// fill computes the densities of an evaluation. A fluid outside its range is a refusal.
func (c *Converter) fill(e *evaluation, k conditions) *Refusal {
	for i := range c.slots[:c.n] {
		s := &c.slots[i]
		f, t := s.leg.Fluid, k.ambient
		switch s.leg.At {
		case LiquidTemperature:
			t = k.liquid
		case OwnTemperature:
			t = s.leg.Fixed
		}
		if air, ok := f.(fluid.Air); ok && !s.leg.LinePressure && (k.pressure.Set || k.humidity.Set) {
			f = withLive(air, k)
		}
		var err error
		if e.fluids[i], err = f.At(t); err != nil {
			return fluidRefusal(err, s.leg.At)
		}
		rho := float64(e.fluids[i].Density)
		if s.roles[geometry.RoleLiquid] {
			e.state.Liquid = rho
		}
		if s.roles[geometry.RoleHighOver] {
			e.state.HighOver = rho
		}
		if s.roles[geometry.RoleLowOver] {
			e.state.LowOver = rho
		}
		if s.roles[geometry.RoleLine] {
			e.state.Line = rho
		}
	}
	if c.o.Sealed != nil {
		e.vapour, e.vapourPerKelvin = c.o.Sealed.Vapour(k.liquid)
	}
	e.state.Temperature = float64(k.liquid)
	e.state.Gravity = float64(c.o.Gravity.Value)
	e.state.TieLiquid = float64(e.tie.Density)
	return nil
}

// fluidRefusal says in the words of the bench that a fluid is outside the range its source vouches for.
func fluidRefusal(err error, at LegTemperature) *Refusal {
	r := &Refusal{Code: TemperatureRange, Field: "liquid temperature", Seen: err.Error(), Check: "the temperature channel, and that the configured liquid is the one in the tube"}
	if at == AmbientTemperature {
		r.Code, r.Field, r.Check = AmbientRange, "ambient air", "the ambient channels or the configured ambient"
	}
	var out *fluid.RangeError
	if errors.As(err, &out) {
		r.Field = out.Quantity + " of " + out.Fluid
		r.Seen = fmt.Sprintf("%.6g %s", out.Seen, out.Unit)
		r.Allowed = fmt.Sprintf("%.6g to %.6g %s", out.Low, out.High, out.Unit)
	}
	return r
}

// evaluateZero computes the tie and the zero once.
func (c *Converter) evaluateZero() error {
	o, m := &c.o, c.o.Shape
	if m.Tie.Temperature != 0 {
		s, err := o.Liquid.At(quantity.Temperature(m.Tie.Temperature))
		if err != nil {
			return fmt.Errorf("at the tie: %w", err)
		}
		c.zero.tie = s
	}
	if o.Zero == nil {
		return nil
	}
	z := &c.zero
	z.state.High, z.state.Low = float64(o.Zero.High), float64(o.Zero.Low)
	z.state.Tilt = float64(o.Zero.Tilt)
	k := conditions{liquid: o.Zero.Temperature, ambient: o.Ambient.Temperature}
	if r := c.fill(z, k); r != nil {
		return fmt.Errorf("at the zero: %w", r)
	}
	m.Evaluate(&z.state, &z.eval)
	if math.IsNaN(z.eval.Pressure) {
		return errors.New("the zero reading gives no pressure: check its positions")
	}
	return nil
}

// Equation is the equation of the instrument's kind, for a person to read.
func (c *Converter) Equation() string { return c.o.Shape.Equation }

// Reads says what the instrument reads: the position in the high limb, that in the low limb, or the mark of an engraved
// scale. Anything else in a reading is not used.
func (c *Converter) Reads() (high, low, indicated bool) {
	if c.o.Engraved != nil {
		return false, false, true
	}
	return c.o.Shape.High.Digitized, c.o.Shape.Low.Digitized, false
}

// FollowsTilt says that a tilt can be told from a change of pressure: it is that of the zero, or the distance of the zero
// mark is known. Otherwise Convert takes the zero as taken again under the tilt.
func (c *Converter) FollowsTilt(t quantity.Angle) bool {
	since := c.o.Tilt
	if c.o.Zero != nil {
		since = c.o.Zero.Tilt
	}
	return c.o.Shape.Low.ZeroDistance != 0 || math.Abs(float64(t-since)) < 1e-9
}

// Kind is the kind of the instrument, as configured.
func (c *Converter) Kind() string { return c.o.Shape.Name }

// ZeroTemperature is the temperature the zero was taken at, or the tie's where there is no zero, or 20 °C.
func (c *Converter) ZeroTemperature() quantity.Temperature {
	switch {
	case c.o.Zero != nil:
		return c.o.Zero.Temperature
	case c.o.Shape.Tie.Temperature != 0:
		return quantity.Temperature(c.o.Shape.Tie.Temperature)
	}
	return quantity.Celsius(20)
}
