package convert

import (
	"errors"
	"fmt"
	"math"

	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// Prediction is where the menisci stand at a given pressure, and what a reading there is worth.
type Prediction struct {
	Pressure  float64 // Pa, as asked
	High, Low Optional[quantity.Length]
	// HighZ and LowZ are the heights of the menisci above the common level.
	HighZ, LowZ quantity.Length
	// OnScale says that every digitized position lies on its scale.
	OnScale bool
	// MovePerPa is how far the digitized meniscus moves along its limb, m/Pa; that of the low limb where both are.
	MovePerPa float64
	CombinedU float64
	ExpandedU float64
	// Contributions as in Result.
	Contributions [MaxInputs]float64
}

// ErrNoVolume says that nothing ties the two limbs together: neither a tie nor a zero with both positions.
var ErrNoVolume = errors.New("where the menisci will stand needs a pair of positions seen together: a tie, or a zero with both positions")

// Predict is the inverse of Convert: the positions that a pressure gives, with the liquid at temperature t.
//
// The pressure of the walk is linear in the position of a straight limb, so Newton's method ends in one step; it is
// iterated for tubes that bend. The undigitized limb follows from equal displaced volumes.
func (c *Converter) Predict(pressure float64, t quantity.Temperature) (Prediction, error) {
	p := Prediction{Pressure: pressure}
	if !finite(pressure) {
		return p, fmt.Errorf("a pressure of %v Pa cannot be predicted", pressure)
	}
	one, err := c.oneLimb()
	if err != nil {
		return p, err
	}
	e := evaluation{tie: c.zero.tie}
	e.state.Tilt = float64(c.o.Tilt)
	if r := c.fill(&e, conditions{liquid: t, ambient: c.o.Ambient.Temperature}); r != nil {
		return p, r
	}
	x, v := &e.state.Low, geometry.LowPosition
	*x = one.Tie.Low
	if one.High.Digitized {
		x, v = &e.state.High, geometry.HighPosition
		*x = one.Tie.High
	}
	target := pressure + c.zero.eval.Pressure - e.vapour + c.zero.vapour
	for range 50 {
		one.Evaluate(&e.state, &e.eval)
		step := (target - e.eval.Pressure) / e.eval.Grad[v]
		if !finite(step) {
			return p, fmt.Errorf("no position gives %g Pa", pressure)
		}
		*x += step
		if math.Abs(step) < 1e-15 {
			break
		}
	}
	one.Evaluate(&e.state, &e.eval)
	p.MovePerPa = 1 / e.eval.Grad[v]
	k := 1 + one.ScaleExpansion*(float64(t)-one.ScaleReference)
	if !one.Tie.Level {
		e.state.High, e.state.Low = e.eval.HighX/k, e.eval.LowX/k
	}
	c.o.Shape.Evaluate(&e.state, &e.eval)
	p.HighZ, p.LowZ = quantity.Metres(e.eval.HighZ), quantity.Metres(e.eval.LowZ)
	p.OnScale = true
	m := c.o.Shape
	if m.High.Digitized || !m.Tie.Level {
		p.High = Some(quantity.Metres(e.state.High))
	}
	if m.Low.Digitized || !m.Tie.Level {
		p.Low = Some(quantity.Metres(e.state.Low))
	}
	// The end of a scale comes back from the pressure there with its rounding; a nanometre is no position off it.
	within := func(at float64, s Span) bool { return at >= s.Low-1e-9 && at <= s.High+1e-9 }
	if m.High.Digitized && !within(e.state.High, c.o.HighScale) || m.Low.Digitized && !within(e.state.Low, c.o.LowScale) {
		p.OnScale = false
	}
	var res Result
	res.CoverageFactor, res.EffectiveDOF = normalFactor, math.Inf(1)
	res.HighExtra, res.LowExtra = c.typical()
	c.propagate(&res, &e)
	p.CombinedU, p.ExpandedU, p.Contributions = res.CombinedU, res.ExpandedU, res.Contributions
	return p, nil
}

// oneLimb is the same instrument with one limb digitized and the other following from the volume.
func (c *Converter) oneLimb() (*geometry.TwoLimb, error) {
	one := *c.o.Shape
	if one.High.Digitized != one.Low.Digitized {
		return &one, nil
	}
	one.High.Digitized = false
	switch {
	case c.o.TieSeparate, one.Chambers.Ratio != 0:
	case c.o.Zero != nil:
		one.Tie = geometry.Tie{High: c.zero.state.High, Low: c.zero.state.Low, Temperature: float64(c.o.Zero.Temperature)}
	default:
		return nil, ErrNoVolume
	}
	return &one, nil
}

// ScaleSpan gives the pressures at the ends of the scale of the limb that is read (the low one where both are), with
// the other limb following from the volume.
func (c *Converter) ScaleSpan(t quantity.Temperature) (low, high float64, err error) {
	one, err := c.oneLimb()
	if err != nil {
		return 0, 0, err
	}
	e := evaluation{tie: c.zero.tie}
	e.state.Tilt = float64(c.o.Tilt)
	if r := c.fill(&e, conditions{liquid: t, ambient: c.o.Ambient.Temperature}); r != nil {
		return 0, 0, r
	}
	at := func(x float64) float64 {
		e.state.High, e.state.Low = x, x
		one.Evaluate(&e.state, &e.eval)
		return e.eval.Pressure - c.zero.eval.Pressure + e.vapour - c.zero.vapour
	}
	scale := c.o.LowScale
	if one.High.Digitized {
		scale = c.o.HighScale
	}
	a, b := at(scale.Low), at(scale.High)
	return math.Min(a, b), math.Max(a, b), nil
}
