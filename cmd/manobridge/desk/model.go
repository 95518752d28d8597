package desk

import (
	"math"
	"strings"

	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// model is an instrument as a function of the deviations of its inputs, nothing linearized: slopes, areas, densities and
// positions are moved and the walk is done again, now and at the zero.
//
// Two things are straight lines in it. A fluid's own inputs shift its density by what the fluid says of one standard
// uncertainty, at the temperature drawn. And an input that the model does not know, or knows differently from the
// converter, enters by the converter's sensitivity; straightNames lists those.
type model struct {
	o     *convert.Options
	shape geometry.TwoLimb // as configured
	at    point
	base  float64 // the model's pressure at the best estimates

	moves    []move // by input; nil where it enters straight
	straight []float64
	inputs   []convert.Input
}

// trial is the instrument with its inputs moved.
type trial struct {
	shape                geometry.TwoLimb
	high, low            float64 // m, read
	zeroHigh, zeroLow    float64
	t, zeroT, tieT       float64 // K
	ambient              float64
	gravity, tilt        float64
	high2, low2          float64 // K, temperatures of legs that have their own
	line2                float64
	liquid, hOver, lOver [fluid.MaxOwn]float64
	line                 [fluid.MaxOwn]float64
}

// move applies the deviation of one input, in the input's unit.
type move func(t *trial, dx float64)

// newModel builds the model around a point and compares each sensitivity with the converter's.
func newModel(o *convert.Options, inputs []convert.Input, at point) *model {
	m := &model{o: o, shape: *o.Shape, at: at, inputs: inputs, moves: make([]move, len(inputs)), straight: make([]float64, len(inputs))}
	x := make([]float64, len(inputs))
	m.base, _ = m.walks(x)
	for i, in := range inputs {
		if in.U == 0 {
			continue
		}
		slope := at.contributions[i] / in.U
		if m.moves[i] = m.moveOf(in); m.moves[i] != nil {
			half := in.U / 2
			x[i] = half
			up, _ := m.walks(x)
			x[i] = -half
			down, _ := m.walks(x)
			x[i] = 0
			got := up - down // for one standard uncertainty
			if math.Abs(got-at.contributions[i]) <= 1e-3*math.Abs(at.contributions[i])+1e-9*(1+math.Abs(at.pressure)) {
				continue
			}
			m.moves[i] = nil
		}
		m.straight[i] = slope
	}
	return m
}

// straightNames are the inputs that the model takes from the converter.
func (m *model) straightNames() []string {
	names := []string{}
	for i, in := range m.inputs {
		if m.straight[i] != 0 {
			names = append(names, in.Name)
		}
	}
	return names
}

// pressure is the result for one draw of the deviations.
func (m *model) pressure(x []float64) (float64, error) {
	p, err := m.walks(x)
	if err != nil {
		return 0, err
	}
	p += m.at.pressure - m.base
	for i, s := range m.straight {
		p += s * x[i]
	}
	return p, nil
}

// walks does the walk now, less that at the zero.
func (m *model) walks(x []float64) (float64, error) {
	o := m.o
	t := trial{shape: m.shape, high: float64(m.at.high.V), low: float64(m.at.low.V), t: float64(m.at.temperature),
		tieT: m.shape.Tie.Temperature, ambient: float64(o.Ambient.Temperature), gravity: float64(o.Gravity.Value), tilt: float64(o.Tilt),
		high2: float64(o.HighOver.Fixed), low2: float64(o.LowOver.Fixed), line2: float64(o.Line.Fixed)}
	zeroTilt := 0.0
	if o.Zero != nil {
		t.zeroHigh, t.zeroLow, t.zeroT = float64(o.Zero.High), float64(o.Zero.Low), float64(o.Zero.Temperature)
		zeroTilt = float64(o.Zero.Tilt) - float64(o.Tilt)
	}
	for i, move := range m.moves {
		if move != nil && x[i] != 0 {
			move(&t, x[i])
		}
	}
	tie := 0.0
	if t.tieT != 0 {
		rho, err := density(o.Liquid, t.tieT, &t.liquid)
		if err != nil {
			return 0, err
		}
		tie = rho
	}
	s := geometry.State{High: t.high, Low: t.low, Temperature: t.t, Gravity: t.gravity, Tilt: t.tilt, TieLiquid: tie}
	now, err := m.walk(&t, &s)
	if err != nil || o.Zero == nil {
		return now, err
	}
	z := geometry.State{High: t.zeroHigh, Low: t.zeroLow, Temperature: t.zeroT, Gravity: t.gravity, Tilt: t.tilt + zeroTilt, TieLiquid: tie}
	zero, err := m.walk(&t, &z)
	return now - zero, err
}

// walk fills in the densities of one state and evaluates it.
func (m *model) walk(t *trial, s *geometry.State) (float64, error) {
	var err error
	if s.Liquid, err = density(m.o.Liquid, s.Temperature, &t.liquid); err != nil {
		return 0, err
	}
	if s.HighOver, err = density(m.o.HighOver.Fluid, legTemperature(&m.o.HighOver, s, t, t.high2), &t.hOver); err != nil {
		return 0, err
	}
	if s.LowOver, err = density(m.o.LowOver.Fluid, legTemperature(&m.o.LowOver, s, t, t.low2), &t.lOver); err != nil {
		return 0, err
	}
	if m.o.Line.Fluid != nil {
		if s.Line, err = density(m.o.Line.Fluid, legTemperature(&m.o.Line, s, t, t.line2), &t.line); err != nil {
			return 0, err
		}
	}
	var e geometry.Eval
	t.shape.Evaluate(s, &e)
	return e.Pressure, nil
}

func legTemperature(l *convert.Leg, s *geometry.State, t *trial, own float64) float64 {
	switch l.At {
	case convert.LiquidTemperature:
		return s.Temperature
	case convert.OwnTemperature:
		return own
	}
	return t.ambient
}

// density is that at a temperature, shifted by the fluid's own inputs, which are counted in standard uncertainties.
func density(f fluid.Fluid, kelvin float64, own *[fluid.MaxOwn]float64) (float64, error) {
	s, err := f.At(quantity.Temperature(kelvin))
	if err != nil {
		return 0, err
	}
	rho := float64(s.Density)
	for k, z := range own {
		rho += s.Own[k] * z
	}
	return rho, nil
}

// moveOf finds what an input moves, by its name; nil where the model does not know it.
func (m *model) moveOf(in convert.Input) move {
	for _, s := range m.o.ShapeInputs {
		if s.Name == in.Name {
			return shapeMove(s)
		}
	}
	if f := m.moveOfReading(in.Name); f != nil {
		return f
	}
	return m.moveOfFluid(in)
}

// moveOfReading knows what is read: positions, temperatures, gravity.
func (m *model) moveOfReading(name string) move {
	tied := m.o.Zero != nil && !m.o.TieSeparate && m.shape.High.Digitized != m.shape.Low.Digitized // the zero fixes the volume too
	if limb, _, ok := strings.Cut(name, " position from "); ok {                                   // its signal, averaging
		name = limb + " position"
	}
	switch name {
	case "high-limb position", "high-limb resolution":
		return func(t *trial, dx float64) { t.high += dx / 1000 }
	case "low-limb position", "low-limb resolution":
		return func(t *trial, dx float64) { t.low += dx / 1000 }
	case "high-limb position at the zero":
		return func(t *trial, dx float64) {
			t.zeroHigh += dx / 1000
			if tied {
				t.shape.Tie.High += dx / 1000
			}
		}
	case "low-limb position at the zero":
		return func(t *trial, dx float64) {
			t.zeroLow += dx / 1000
			if tied {
				t.shape.Tie.Low += dx / 1000
			}
		}
	case "high-limb position at the tie":
		return func(t *trial, dx float64) { t.shape.Tie.High += dx / 1000 }
	case "low-limb position at the tie":
		return func(t *trial, dx float64) { t.shape.Tie.Low += dx / 1000 }
	case "liquid temperature":
		return func(t *trial, dx float64) { t.t += dx }
	case "liquid temperature at the zero":
		return func(t *trial, dx float64) {
			t.zeroT += dx
			if tied {
				t.tieT += dx
				t.shape.Tie.Temperature += dx
			}
		}
	case "liquid temperature at the tie":
		return func(t *trial, dx float64) {
			t.tieT += dx
			t.shape.Tie.Temperature += dx
		}
	case "ambient temperature":
		return func(t *trial, dx float64) { t.ambient += dx }
	case "local gravity":
		return func(t *trial, dx float64) { t.gravity += dx }
	}
	return nil
}

// moveOfFluid knows the own inputs of the fluids, and the temperatures of legs. The same fluid in several places
// has the same inputs: they move together.
func (m *model) moveOfFluid(in convert.Input) move {
	type place struct {
		f   fluid.Fluid
		own func(t *trial) *[fluid.MaxOwn]float64
	}
	places := []place{
		{m.o.Liquid, func(t *trial) *[fluid.MaxOwn]float64 { return &t.liquid }},
		{m.o.HighOver.Fluid, func(t *trial) *[fluid.MaxOwn]float64 { return &t.hOver }},
		{m.o.LowOver.Fluid, func(t *trial) *[fluid.MaxOwn]float64 { return &t.lOver }},
	}
	type legPlace struct {
		leg *convert.Leg
		to  func(t *trial) *float64
	}
	legs := []legPlace{{&m.o.HighOver, func(t *trial) *float64 { return &t.high2 }}, {&m.o.LowOver, func(t *trial) *float64 { return &t.low2 }}}
	if m.o.Line.Fluid != nil {
		places = append(places, place{m.o.Line.Fluid, func(t *trial) *[fluid.MaxOwn]float64 { return &t.line }})
		legs = append(legs, legPlace{&m.o.Line, func(t *trial) *float64 { return &t.line2 }})
	}
	var moves []move
	for _, p := range places {
		for k, own := range p.f.Inputs() {
			title := own.Name
			if !strings.HasPrefix(title, p.f.Name()) {
				title = p.f.Name() + " " + title
			}
			if title == in.Name {
				moves = append(moves, func(t *trial, dx float64) { p.own(t)[k] += dx / in.U })
			}
		}
	}
	for _, l := range legs {
		if l.leg.At == convert.OwnTemperature && l.leg.Fluid.Name()+" leg temperature" == in.Name {
			moves = append(moves, func(t *trial, dx float64) { *l.to(t) += dx })
		}
	}
	if len(moves) == 0 {
		return nil
	}
	return func(t *trial, dx float64) {
		for _, f := range moves {
			f(t, dx)
		}
	}
}
