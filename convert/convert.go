package convert

import (
	"fmt"
	"math"

	"manobridge/convert/fluid"
	"manobridge/convert/quantity"
)

// Convert turns a reading into a result. It always gives one: where there is no pressure to believe, the result is bad
// and names the cause, and its Refusal says what was seen and what is allowed.
func (c *Converter) Convert(r Reading) Result {
	res := Result{Reading: r, Config: c.o.Config, CoverageFactor: normalFactor, EffectiveDOF: math.Inf(1)}
	if r.Refusal != nil {
		return res.refuse(r.Refusal)
	}
	e := evaluation{tie: c.zero.tie}
	k, stand, refusal := c.conditions(&r)
	if refusal == nil {
		refusal = c.positions(&r, &e)
	}
	if refusal == nil {
		refusal = c.fill(&e, k)
	}
	if refusal != nil {
		return res.refuse(refusal)
	}
	res.Temperature = Some(k.liquid)
	c.o.Shape.Evaluate(&e.state, &e.eval)
	if refusal = c.menisci(&e); refusal != nil {
		return res.refuse(refusal)
	}

	p := e.eval.Pressure - c.zero.eval.Pressure + e.vapour - c.zero.vapour
	if !finite(p) {
		return res.refuse(&Refusal{Code: NotFinite, Field: "pressure", Seen: fmt.Sprint(p), Allowed: "a finite number", Check: "the configuration of this instrument"})
	}
	res.Kind, res.Differential = DifferentialValue, quantity.DifferentialPressure(p)
	if c.o.Sealed != nil {
		res.Kind, res.Differential, res.Absolute = AbsoluteValue, 0, quantity.AbsolutePressure(p)
	}
	res.Head = Some(quantity.Metres(e.eval.LowZ - e.eval.HighZ - (c.zero.eval.LowZ - c.zero.eval.HighZ)))
	c.propagate(&res, &e)
	c.judge(&res, &e, k, stand)
	return res
}

// propagate fills contributions, u_c, ν_eff, k and U.
//
//	u_c² = Σ (c_i u(x_i))²
//
// for independent inputs; an input that acts in several places (a density over several columns, a position that is
// also the tie) has one signed sensitivity. Source: JCGM 100:2008, 5.1.2, G.4.1 and 6.2.1.
func (c *Converter) propagate(res *Result, e *evaluation) {
	sum, weighed := 0.0, 0.0
	for i := range c.terms {
		t := &c.terms[i]
		u, dof := t.u, c.dof[i]
		switch t.kind {
		case ofHighExtra:
			u, dof = float64(res.HighExtra.U), orInf(res.HighExtra.DOF)
		case ofLowExtra:
			u, dof = float64(res.LowExtra.U), orInf(res.LowExtra.DOF)
		}
		d := (c.part(t, e) - t.zero) * u
		res.Contributions[i] = d
		sum += d * d
		if c.anyT && !math.IsInf(dof, 1) {
			weighed += d * d * d * d / dof
		}
	}
	res.CombinedU = math.Sqrt(sum)
	if c.anyT && sum > 0 {
		if weighed > 0 {
			res.EffectiveDOF = sum * sum / weighed
		}
		res.CoverageFactor = c.cover.K(res.EffectiveDOF)
	}
	res.ExpandedU = res.CoverageFactor * res.CombinedU
}

// withLive gives the air its live pressure and humidity, each where it is set.
func withLive(air fluid.Air, k conditions) fluid.Air {
	p, h := air.Pressure(), air.Humidity()
	if k.pressure.Set {
		p = k.pressure.V
	}
	if k.humidity.Set {
		h = k.humidity.V
	}
	return air.With(p, h)
}

// Refused makes the result of a reading that belongs to no converter: a row of a file, or a frame, of no known
// instrument. The reading must have a Refusal.
func Refused(r Reading) Result { return Result{Reading: r}.refuse(r.Refusal) }
