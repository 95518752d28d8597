package convert

import (
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"
)

// Explanation is one conversion laid open: the walk now, the walk at the zero, and what the two closed forms say.
type Explanation struct {
	Result Result
	Now    Side
	// Zero is the walk that is subtracted; nil where the instrument has no zero.
	Zero *Side
}

// Side is one walk from the high tap to the low tap.
type Side struct {
	Walk    geometry.Walk
	Fluids  []string // the name of the fluid of each column of Walk
	Gravity quantity.Acceleration
	// Evaluated is the pressure by the closed form; Walk.Difference gives it column by column.
	Evaluated   float64
	HighZ, LowZ quantity.Length
	Temperature quantity.Temperature
}

// Explain converts a reading and lays the arithmetic open. The error is the Refusal of a reading that gives no value.
func (c *Converter) Explain(r Reading) (Explanation, error) {
	x := Explanation{Result: c.Convert(r)}
	if x.Result.Refusal != nil {
		return x, x.Result.Refusal
	}
	e := evaluation{tie: c.zero.tie}
	k, _, refusal := c.conditions(&r)
	if refusal == nil {
		refusal = c.positions(&r, &e)
	}
	if refusal == nil {
		refusal = c.fill(&e, k)
	}
	if refusal != nil {
		return x, refusal
	}
	c.o.Shape.Evaluate(&e.state, &e.eval)
	x.Now = c.side(&e)
	if c.o.Zero != nil {
		z := c.side(&c.zero)
		x.Zero = &z
	}
	return x, nil
}

func (c *Converter) side(e *evaluation) Side {
	s := Side{Walk: c.o.Shape.Walk(&e.state, &e.eval), Gravity: c.o.Gravity.Value, Evaluated: e.eval.Pressure,
		HighZ: quantity.Metres(e.eval.HighZ), LowZ: quantity.Metres(e.eval.LowZ), Temperature: quantity.Temperature(e.state.Temperature)}
	for _, col := range s.Walk.Columns {
		s.Fluids = append(s.Fluids, c.fluidOf(col.Role).Name())
	}
	return s
}

// fluidOf gives the fluid that plays a role.
func (c *Converter) fluidOf(role geometry.Role) fluid.Fluid {
	for i := range c.slots[:c.n] {
		if c.slots[i].roles[role] {
			return c.slots[i].leg.Fluid
		}
	}
	return c.o.Liquid
}
