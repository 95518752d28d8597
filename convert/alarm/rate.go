package alarm

import (
	"fmt"
	"math"
	"time"

	"manobridge/convert/uncertainty"
)

// Rate is how fast a value changes, by a straight line through what came within a time.
type Rate struct {
	over  time.Duration
	cover *uncertainty.Coverage
	at    []time.Duration
	v     []float64
}

// ratePoints bounds how many values one line goes through. Where more come, every second one is left out.
const ratePoints = 256

// NewRate makes a rate over a time of at least 1 s.
func NewRate(over time.Duration) (*Rate, error) {
	if over < time.Second {
		return nil, fmt.Errorf("a rate over %v; allowed: 1 s and up", over)
	}
	cover, err := uncertainty.NewCoverage(uncertainty.DefaultP)
	if err != nil {
		return nil, err
	}
	return &Rate{over: over, cover: cover}, nil
}

// Add takes a value and gives the rate in unit per second; false until the values span three fifths of the time with three
// points or more, which values that come at least twice in the time do whatever their rhythm. A value that is not known makes the rate unknown and starts anew: a line across a hole would be a guess.
//
//	b = Σ (t − t̄)(v − v̄) / Σ (t − t̄)², u(b) = s / √Σ (t − t̄)², ν = n − 2
//
// The uncertainty is that of the scatter about the line. What all values of an instrument share, as its zero, drops out of
// a change; that of the scale (1 % at most in any instrument with a stated slope) is left out. Source: JCGM 100:2008, H.3.
func (r *Rate) Add(v Value) (Value, bool) {
	if !v.Known() {
		r.Restart()
		return v, true
	}
	if n := len(r.at); n > 0 && v.At <= r.at[n-1] {
		return Value{}, false
	}
	drop := 0
	for drop < len(r.at) && v.At-r.at[drop] > r.over {
		drop++
	}
	r.at = append(r.at[:0], r.at[drop:]...)
	r.v = append(r.v[:0], r.v[drop:]...)
	if len(r.at) >= ratePoints {
		r.thin()
	}
	r.at, r.v = append(r.at, v.At), append(r.v, v.V)
	n := len(r.at)
	if n < 3 || v.At-r.at[0] < r.over*3/5 {
		return Value{}, false
	}
	slope, s := r.line()
	return Value{At: v.At, V: slope, U: r.cover.K(float64(n-2)) * s}, true
}

// Restart forgets what came, as after a new zero: the step from the old one is no rate.
func (r *Rate) Restart() { r.at, r.v = r.at[:0], r.v[:0] }

// thin keeps every second value.
func (r *Rate) thin() {
	n := 0
	for i := 0; i < len(r.at); i += 2 {
		r.at[n], r.v[n] = r.at[i], r.v[i]
		n++
	}
	r.at, r.v = r.at[:n], r.v[:n]
}

// line gives the slope and its standard uncertainty.
func (r *Rate) line() (slope, u float64) {
	n := float64(len(r.at))
	start := r.at[0]
	var t0, v0 float64
	for i := range r.at {
		t0 += (r.at[i] - start).Seconds()
		v0 += r.v[i]
	}
	t0, v0 = t0/n, v0/n
	var tt, tv float64
	for i := range r.at {
		t := (r.at[i] - start).Seconds() - t0
		tt += t * t
		tv += t * (r.v[i] - v0)
	}
	slope = tv / tt
	var rest float64
	for i := range r.at {
		d := r.v[i] - v0 - slope*((r.at[i]-start).Seconds()-t0)
		rest += d * d
	}
	return slope, math.Sqrt(rest / (n - 2) / tt)
}
