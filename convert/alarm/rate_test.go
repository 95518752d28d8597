package alarm

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// A line with known noise: the slope lies within U in 95 % of the trials (JCGM 100:2008, G.3), here at least 93 %.
func TestRateCoversTheTruth(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 9))
	within, trials := 0, 2000
	r, err := NewRate(time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	for range trials {
		r.Add(none(0, "between two trials"))
		var got Value
		var ok bool
		for i := range 13 {
			got, ok = r.Add(Value{At: time.Duration(i) * 5 * time.Second, V: 40 - 0.25*float64(i)*5 + 0.5*rnd.NormFloat64(), U: 1})
		}
		if !ok {
			t.Fatal("no rate after a minute")
		}
		if math.Abs(got.V+0.25) <= got.U {
			within++
		}
	}
	if share := float64(within) / float64(trials); share < 0.93 || share > 0.97 {
		t.Errorf("got the true slope within U in %.3f of the trials, want 0.95 ± 0.02 (four standard deviations of the count)", share)
	}
}

func TestRateNeedsItsTime(t *testing.T) {
	r, err := NewRate(10 * time.Second)
	if err != nil {
		t.Fatal(err)
	}
	add := func(s, v float64) (Value, bool) {
		return r.Add(Value{At: time.Duration(s * float64(time.Second)), V: v, U: 1})
	}
	for _, c := range []struct {
		s, v float64
		ok   bool
	}{{0, 0, false}, {4, 8, false}, {5.9, 11.8, false}, {6, 12, true}, {6, 99, false}, {9, 18, true}} {
		got, ok := add(c.s, c.v)
		if ok != c.ok || ok && (math.Abs(got.V-2) > 1e-9) {
			t.Errorf("got %g, %v at %g s, want 2, %v (a line of 2 per second)", got.V, ok, c.s, c.ok)
		}
	}
	if got, ok := add(9.5, math.NaN()); !ok || got.Known() {
		t.Error("an unknown value left the rate known")
	}
	if _, ok := add(10, 20); ok {
		t.Error("a rate was drawn across a hole")
	}
	r.Restart()
	if _, ok := add(18, 36); ok {
		t.Error("a rate was drawn across a new zero")
	}
	if _, err := NewRate(0); err == nil {
		t.Error("a rate over no time was taken")
	}
}

// Values at least twice within the time give a rate whatever their rhythm: of every x-th part of the time ⌊x⌋ steps fit into
// it, and ⌊x⌋/x is above 2/3 from x = 2 on.
func TestRateAtEveryRhythm(t *testing.T) {
	for every := 1 * time.Second; every <= 30*time.Second; every += 700 * time.Millisecond {
		r, err := NewRate(time.Minute)
		if err != nil {
			t.Fatal(err)
		}
		none := 0
		for at := time.Duration(0); at < 10*time.Minute; at += every {
			got, ok := r.Add(Value{At: at, V: 0.5 * at.Seconds(), U: 1})
			switch {
			case ok && math.Abs(got.V-0.5) > 1e-9:
				t.Errorf("every %v: got %g per second, want 0.5", every, got.V)
			case !ok && at > time.Minute:
				none++
			}
		}
		if none > 0 {
			t.Errorf("every %v: got no rate %d times after the first minute, want one with each value", every, none)
		}
	}
}
