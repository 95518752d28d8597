package alarm

import (
	"fmt"
	"math"
	"slices"
	"time"

	"manobridge/convert"
	"manobridge/convert/uncertainty"
)

// Value is what a limit is held against.
type Value struct {
	At time.Duration // since the start of the run
	// V with its expanded uncertainty U, in Pa or Pa/s. Both are NaN where there is no value; Why then says why.
	V, U float64
	Why  string
}

// Known tells whether there is a value.
func (v Value) Known() bool { return usable(v.V, v.U) }

func none(at time.Duration, why string) Value {
	return Value{At: at, V: math.NaN(), U: math.NaN(), Why: why}
}

// Of gives the value of one result. A bad result has none, and none that was read, in part at least, with both ports open:
// that is not the pressure of the place. Another uncertain one has: its uncertainty and causes go with it.
func Of(r *convert.Result) Value {
	p, ok := r.Pressure()
	if !ok || r.Status == convert.Bad {
		return none(r.SinceStart, fmt.Sprintf("%s is bad: %s", r.Instrument, first(r.Causes)))
	}
	if slices.Contains(r.Causes, convert.ZeroCheck) {
		return none(r.SinceStart, "the zero of "+r.Instrument+" is being taken, with both its ports open")
	}
	return Value{At: r.SinceStart, V: p, U: r.ExpandedU}
}

func first(causes []convert.Cause) string {
	if len(causes) == 0 {
		return "no cause given"
	}
	return string(causes[0])
}

// Difference is the pressure of one instrument less that of another, with what they share counted once.
type Difference struct {
	a, b   *convert.Converter
	names  [2]string
	within time.Duration
	cover  *uncertainty.Coverage
	last   [2]convert.Result
	has    [2]bool
}

// NewDifference pairs the results of two instruments. within is how far apart the two readings may have been received.
func NewDifference(nameA, nameB string, a, b *convert.Converter, within time.Duration) (*Difference, error) {
	switch {
	case nameA == nameB:
		return nil, fmt.Errorf("a difference of %s and itself is nothing", nameA)
	case a == nil || b == nil:
		return nil, fmt.Errorf("a difference needs two instruments")
	case within <= 0:
		return nil, fmt.Errorf("a pairing window of %v; allowed: more than 0", within)
	}
	cover, err := uncertainty.NewCoverage(uncertainty.DefaultP)
	if err != nil {
		return nil, err
	}
	return &Difference{a: a, b: b, names: [2]string{nameA, nameB}, within: within, cover: cover}, nil
}

// Replace gives the difference other converters, as after a new zero. What was paired before is forgotten: two zeros of one
// instrument are two inputs.
func (d *Difference) Replace(a, b *convert.Converter) {
	d.a, d.b, d.has = a, b, [2]bool{}
}

// Add takes a result of either instrument and gives the difference that it completes; false where there is none to give yet.
// A bad result gives a difference that is not known. Results must not be changed afterwards.
//
//	p = p_a − p_b, u² = Σ over inputs (c_a u − c_b u)²
//
// Source: JCGM 100:2008, 5.2.2 and F.1.2.3 for inputs that both share; k by G.4 and G.6.4.
func (d *Difference) Add(r *convert.Result) (Value, bool) {
	i := 0
	switch r.Instrument {
	case d.names[0]:
	case d.names[1]:
		i = 1
	default:
		return Value{}, false
	}
	if v := Of(r); !v.Known() {
		d.has[i] = false
		return v, true
	}
	d.last[i], d.has[i] = *r, true
	other := 1 - i
	if !d.has[other] {
		return Value{}, false
	}
	x, y := &d.last[0], &d.last[1]
	if apart := (x.SinceStart - y.SinceStart).Abs(); apart > d.within {
		return Value{}, false
	}
	at := max(x.SinceStart, y.SinceStart)
	if x.Kind != y.Kind {
		return none(at, "an absolute and a differential pressure have no difference"), true
	}
	uc, nu, err := uncertainty.Difference(d.a.Shared(x), d.b.Shared(y))
	if err != nil {
		return none(at, err.Error()), true
	}
	px, _ := x.Pressure()
	py, _ := y.Pressure()
	k := d.cover.K(nu)
	if math.IsInf(nu, 1) {
		k = 2
	}
	return Value{At: at, V: px - py, U: k * uc}, true
}

// Overdue tells whether the pair is older than the pairing window allows, so that what was known is not any more.
func (d *Difference) Overdue(now time.Duration) bool {
	for i := range d.has {
		if !d.has[i] || now-d.last[i].SinceStart > d.within {
			return true
		}
	}
	return false
}
