package secondway

import "math"

// Bounds is what a value is held against, -Inf or +Inf where there is no bound. Guard is by how many times its expanded
// uncertainty a value is moved before it is: outward (+1) where it must prove that it is inside, inward (-1) where it must
// prove that it is outside, 0 where the value itself decides (JCGM 106:2012, 8.2 and 8.3).
type Bounds struct {
	Low, High, Deadband, Guard float64
}

// Value is one value with its expanded uncertainty; NaN where there is none.
type Value struct{ V, U float64 }

func (v Value) known() bool {
	return !math.IsNaN(v.V) && !math.IsInf(v.V, 0) && !math.IsNaN(v.U) && !math.IsInf(v.U, 0) && v.U >= 0
}

// inside tells whether a value is inside both bounds by at least so much. On the bound is inside (JCGM 106:2012, 8.2).
func (b Bounds) inside(v Value, by float64) bool {
	shift := b.Guard * v.U
	return v.V+shift-b.High <= -by && b.Low-v.V+shift <= -by
}

// Of gives the condition after the latest of some values. "Deadband: must come back inside by that much before it counts as
// normal" (OPC 10000-9, 5.8). It is present if some value was outside and none since came inside by the deadband.
// A value that is not known says nothing, and takes nothing back.
//
// Choice: a window is one limit. A value that leaves beyond one bound must come inside both by the deadband.
func (b Bounds) Of(values []Value) Condition {
	last := len(values) - 1
	if last < 0 || !values[last].known() {
		return Unknown
	}
	for i := last; i >= 0; i-- {
		v := values[i]
		switch {
		case !v.known():
		case !b.inside(v, 0):
			return Present
		case b.inside(v, b.Deadband):
			return Absent
		}
	}
	return Absent // never outside
}
