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
	}{{0, 0, false}, {4, 8, false}, {7.9, 15.8, false}, {8, 16, true}, {8, 99, false}, {9, 18, true}} {
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
	if _, err := NewRate(0); err == nil {
		t.Error("a rate over no time was taken")
	}
}
