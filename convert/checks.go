package convert

import (
	"fmt"
	"math"

	"manobridge/convert/quantity"
)

// maxTiltDeg bounds the tilt of a base in °, as tilt_deg of the configuration. Further over, every height vanishes with its
// uncertainty, and a channel in another unit is the likelier reading.
const maxTiltDeg = 10

// conditions works out the temperatures and the air that hold for a reading. stand says that a configured temperature
// stands in for a measured one.
func (c *Converter) conditions(r *Reading) (k conditions, stand bool, refusal *Refusal) {
	k.ambient = c.o.Ambient.Temperature
	if r.AmbientTemperature.Set {
		k.ambient = r.AmbientTemperature.V
	}
	rule := c.o.Temperature
	switch {
	case rule.Ambient:
		k.liquid = k.ambient
	case rule.Live && r.Temperature.Set:
		k.liquid = r.Temperature.V
	case rule.Fixed.Set:
		k.liquid, stand = rule.Fixed.V, rule.Live
	case r.Temperature.Set:
		k.liquid = r.Temperature.V
	default:
		return k, false, &Refusal{Code: TemperatureMissing, Field: "liquid temperature", Seen: "was not received",
			Allowed: "a temperature with each reading, or temperature: fixed_c in the configuration", Check: "the digitizer's temperature probe"}
	}
	k.pressure, k.humidity = r.AmbientPressure, r.AmbientHumidity
	for _, f := range []struct {
		what string
		v    float64
	}{{"liquid temperature", k.liquid.Celsius()}, {"ambient temperature", k.ambient.Celsius()},
		{"ambient pressure", float64(k.pressure.V)}, {"relative humidity", float64(k.humidity.V)}, {"tilt", float64(r.Tilt.V)}} {
		if !finite(f.v) {
			return k, stand, notFinite(f.what, f.v)
		}
	}
	if t := float64(r.Tilt.V) * 180 / math.Pi; math.Abs(t) > maxTiltDeg {
		return k, stand, &Refusal{Code: TiltRange, Field: "tilt", Seen: fmt.Sprintf("%.6g °", t),
			Allowed: fmt.Sprintf("%d to %d °", -maxTiltDeg, maxTiltDeg), Check: "the tilt channel, and that the instrument stands"}
	}
	return k, stand, nil
}

func notFinite(what string, v float64) *Refusal {
	return &Refusal{Code: NotFinite, Field: what, Seen: fmt.Sprint(v), Allowed: "a finite number", Check: "the digitizer's output"}
}

// positions checks the digitized positions against their scales and puts them into the state.
func (c *Converter) positions(r *Reading, e *evaluation) *Refusal {
	e.state.Tilt = float64(c.o.Tilt)
	if r.Tilt.Set {
		e.state.Tilt = float64(r.Tilt.V)
	}
	if c.o.Engraved != nil {
		v, refusal := c.mark(r.Indicated)
		e.state.Low = v
		return refusal
	}
	high, refusal := position("high-limb position", c.o.Shape.High.Digitized, r.High, c.o.HighScale)
	if refusal != nil {
		return refusal
	}
	low, refusal := position("low-limb position", c.o.Shape.Low.Digitized, r.Low, c.o.LowScale)
	e.state.High, e.state.Low = high, low
	return refusal
}

// mark checks a reading of an engraved scale and turns it into a height.
func (c *Converter) mark(got Optional[float64]) (float64, *Refusal) {
	g, s := c.o.Engraved, c.o.LowScale
	at := got.V * g.PerUnit
	switch {
	case !got.Set:
		return 0, &Refusal{Code: PositionMissing, Field: "reading", Seen: "was not received", Allowed: "a reading each time", Check: "the digitizer and the fields of its frame"}
	case !finite(got.V):
		return 0, notFinite("reading", got.V)
	case at < s.Low || at > s.High:
		return 0, &Refusal{Code: LimbOffScale, Field: "reading", Seen: fmt.Sprintf("%.6g %s", got.V, g.Unit),
			Allowed: fmt.Sprintf("%.6g to %.6g %s", s.Low/g.PerUnit, s.High/g.PerUnit, g.Unit), Check: "the column, the digitizer's alignment and scale"}
	}
	return at, nil
}

// position checks one position against its scale. A limb that is not digitized has none to check.
func position(name string, digitized bool, got Optional[quantity.Length], scale Span) (float64, *Refusal) {
	v := float64(got.V)
	switch {
	case !digitized:
		return 0, nil
	case !got.Set:
		return 0, &Refusal{Code: PositionMissing, Field: name, Seen: "was not received",
			Allowed: "a position with each reading", Check: "the digitizer and the fields of its frame"}
	case !finite(v):
		return 0, notFinite(name, v)
	case v < scale.Low || v > scale.High:
		return 0, &Refusal{Code: LimbOffScale, Field: name, Seen: fmt.Sprintf("%.6g mm", v*1000),
			Allowed: fmt.Sprintf("%.6g to %.6g mm", scale.Low*1000, scale.High*1000), Check: "the column, the digitizer's alignment and scale_mm"}
	}
	return v, nil
}

// menisci refuses a column that the volume balance puts where there is no tube.
func (c *Converter) menisci(e *evaluation) *Refusal {
	m := c.o.Shape
	off := func(limb string, z, tap float64) *Refusal {
		side := "below"
		if m.TapsBelow {
			side = "above"
		}
		return &Refusal{Code: LimbOffColumn, Field: limb + "-limb meniscus", Seen: fmt.Sprintf("%.6g mm above the common level", z*1000),
			Allowed: fmt.Sprintf("%s its tap at %.6g mm", side, tap*1000), Check: "the amount of liquid, the zero or tie pair and the tap heights"}
	}
	if z := e.eval.HighZ; z != m.High.Tap && z > m.High.Tap != m.TapsBelow {
		return off("high", z, m.High.Tap)
	}
	if z := e.eval.LowZ; z != m.Low.Tap && z > m.Low.Tap != m.TapsBelow {
		return off("low", z, m.Low.Tap)
	}
	if p := m.Low.Profile; p != nil {
		if first, last := p.Ends(); e.eval.LowX < first || e.eval.LowX > last {
			return &Refusal{Code: LimbOffScale, Field: "low-limb position", Seen: fmt.Sprintf("%.6g mm", e.eval.LowX*1000),
				Allowed: fmt.Sprintf("%.6g to %.6g mm, the points of the tube", first*1000, last*1000), Check: "points and scale_mm"}
		}
	}
	for _, l := range []struct {
		name      string
		digitized bool
		x         float64
		scale     Span
	}{{"high", m.High.Digitized, e.eval.HighX, c.o.HighScale}, {"low", m.Low.Digitized, e.eval.LowX, c.o.LowScale}} {
		// A reservoir has no scale: its level counts from that of the zero.
		if !l.digitized && !m.Tie.Level && l.scale.High > l.scale.Low && (l.x < l.scale.Low || l.x > l.scale.High) {
			return &Refusal{Code: LimbOffColumn, Field: l.name + "-limb position by the volume balance", Seen: fmt.Sprintf("%.6g mm", l.x*1000),
				Allowed: fmt.Sprintf("%.6g to %.6g mm", l.scale.Low*1000, l.scale.High*1000), Check: "the amount of liquid, the zero or tie pair, and the bores"}
		}
	}
	return nil
}

// judge adds the causes that leave a value but lessen the trust in it.
func (c *Converter) judge(res *Result, e *evaluation, k conditions, stand bool) {
	if stand {
		res.add(TemperatureFixed)
	}
	// Within twice its standard uncertainty of the end, the meniscus may already be beyond it.
	near := func(digitized bool, at float64, scale Span, u Stated[quantity.Length], own Extra) bool {
		by := 2 * math.Hypot(float64(u.U), float64(own.U))
		return digitized && (at-scale.Low < by || scale.High-at < by)
	}
	m, u := c.o.Shape, &c.o.U
	if near(m.High.Digitized, e.state.High, c.o.HighScale, u.High.Position, res.HighExtra) || near(m.Low.Digitized, e.state.Low, c.o.LowScale, u.Low.Position, res.LowExtra) {
		res.add(LimbAtScaleEnd)
	}
	for i := range c.slots[:c.n] {
		if x, ok := c.slots[i].leg.Fluid.(interface {
			Extended(quantity.Temperature) bool
		}); ok && x.Extended(c.legTemperature(i, k)) {
			res.add(AmbientRange)
			break
		}
	}
	if p, ok := res.Pressure(); ok && c.o.Range != nil && (p < c.o.Range.Low-res.ExpandedU || p > c.o.Range.High+res.ExpandedU) {
		res.add(PressureRange)
	}
}

func (c *Converter) legTemperature(i int, k conditions) quantity.Temperature {
	switch l := c.slots[i].leg; l.At {
	case LiquidTemperature:
		return k.liquid
	case OwnTemperature:
		return l.Fixed
	}
	return k.ambient
}

// add files a cause, the worst first, and lets the worst decide the status.
func (r *Result) add(cause Cause) {
	w, known := statusOf[cause]
	if !known {
		w = statusWord{Bad, codeBadSensorFailure, Failure}
	}
	worst := len(r.Causes) == 0 || w.status > r.Status || w.status == r.Status && w.ne107.rank() > r.NE107.rank()
	if !worst {
		r.Causes = append(r.Causes, cause)
		return
	}
	r.Causes = append([]Cause{cause}, r.Causes...)
	r.Status, r.StatusCode = w.status, w.code
	if w.ne107.rank() > r.NE107.rank() {
		r.NE107 = w.ne107
	}
}

// refuse makes a result without a pressure.
func (r Result) refuse(why *Refusal) Result {
	r.Refusal = why
	r.Kind, r.Head = NoValue, Optional[quantity.Length]{}
	r.add(why.Code)
	if r.Status != Bad {
		r.Status, r.StatusCode = Bad, codeBadOutOfRange
	}
	r.CombinedU, r.ExpandedU = 0, 0
	return r
}
