package alarm

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

type step struct {
	at float64 // s
	v  float64 // NaN for unknown
}

func follow(c *Crossings, steps ...step) (last *Excursion, ended []Excursion) {
	for _, s := range steps {
		at := time.Duration(s.at * float64(time.Second))
		v := Value{At: at, V: s.v, U: 1}
		e, changed := c.Add(v, Moment{Run: "r1", Limit: "corridor", Wall: noon.Add(at)})
		if last = e; changed && !e.Open {
			ended = append(ended, *e)
		}
	}
	return last, ended
}

// Worked by hand: a triangle over 10 Pa with its foot from 1 s to 3 s and its top at 14 Pa: ½ · 2 s · 4 Pa = 4 Pa·s.
func TestExcursionTriangle(t *testing.T) {
	c := NewCrossings(Limits{Low: math.Inf(-1), High: 10, Decision: SimpleAcceptance}, 10*time.Second)
	_, ended := follow(c, step{0, 6}, step{2, 14}, step{4, 6}, step{5, 6})
	if len(ended) != 1 {
		t.Fatalf("got %d excursions, want 1", len(ended))
	}
	e := ended[0]
	if math.Abs(e.Integral-4) > 1e-9 || e.Lasted != 2*time.Second || !e.Start.Equal(noon.Add(time.Second)) || !e.End.Equal(noon.Add(3*time.Second)) ||
		e.Extreme != 14 || e.Bound != 10 || e.Outside != 1 || e.Unknown != 0 {
		t.Errorf("got %+v, want 4 Pa·s over 2 s from 12:00:01 with its extreme at 14 Pa (worked by hand)", e)
	}
	if hour, day := c.Outside(5 * time.Second); hour != 2*time.Second || day != 2*time.Second {
		t.Errorf("got %v in the hour and %v in the day, want 2 s in each", hour, day)
	}
}

// Many dips, each far shorter than any delay, add up to what one long dip would be.
func TestShortExcursionsAddUp(t *testing.T) {
	c := NewCrossings(Limits{Low: 5, High: math.Inf(1), Decision: SimpleAcceptance}, 10*time.Second)
	steps := []step{{0, 6}}
	for i := range 100 {
		at := float64(i) * 10
		steps = append(steps, step{at + 5, 4}, step{at + 7, 6}) // below for 1 s: half a second before the low, half after… by hand below
	}
	_, ended := follow(c, steps...)
	// From 6 down to 4 the line crosses 5 half way, and so up again. The first way down takes 5 s, the others 8 s (7 → 15);
	// each way up 2 s. Below: 2.5 s + 99 · 4 s + 100 · 1 s.
	want := 2.5 + 99*4 + 100*1
	hour, _ := c.Outside(1000 * time.Second)
	if len(ended) != 100 || math.Abs(hour.Seconds()-want) > 1e-6 {
		t.Errorf("got %d excursions and %v in the hour, want 100 and %g s (worked by hand)", len(ended), hour, want)
	}
}

func TestExcursionHoldsThroughTheUnknown(t *testing.T) {
	c := NewCrossings(Limits{Low: math.Inf(-1), High: 10, Decision: SimpleAcceptance}, 2*time.Second)
	last, ended := follow(c, step{0, 12}, step{1, 12}, step{2, math.NaN()}, step{5, math.NaN()}, step{6, 12})
	if len(ended) != 0 || last == nil || !last.Open {
		t.Fatal("a missing value ended the excursion")
	}
	// Known: 0 to 1 s, 2 Pa beyond. Not known: 1 to 6 s.
	if last.Unknown != 5*time.Second || math.Abs(last.Integral-2) > 1e-9 {
		t.Errorf("got %v unknown and %g Pa·s, want 5 s and 2 Pa·s (worked by hand)", last.Unknown, last.Integral)
	}
}

// The integral against a fine sum over the same broken line.
func TestIntegralAgainstASum(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	l := Limits{Low: -1, High: 2, Decision: SimpleAcceptance}
	c := NewCrossings(l, time.Hour)
	var steps []step
	for i := range 300 {
		steps = append(steps, step{float64(i), rnd.NormFloat64() * 2})
	}
	steps = append(steps, step{300, 0})
	_, ended := follow(c, steps...)
	var got, want, wantOut float64
	for _, e := range ended {
		got += e.Integral
	}
	_, day := c.Outside(300 * time.Second)
	out := day.Seconds()
	const fine = 2000
	for i := 1; i < len(steps); i++ {
		for k := range fine {
			v := steps[i-1].v + (steps[i].v-steps[i-1].v)*(float64(k)+0.5)/fine
			if d := math.Max(v-l.High, l.Low-v); d > 0 {
				want += d / fine
				wantOut += 1.0 / fine
			}
		}
	}
	if math.Abs(got-want) > 0.01 || math.Abs(out-wantOut) > 0.3 {
		t.Errorf("got %g Pa·s over %g s, want %g over %g (fine sum)", got, out, want, wantOut)
	}
}

func TestRollingForgets(t *testing.T) {
	r := newRolling(time.Minute, 60)
	r.add(30*time.Second, 7*time.Second)
	r.add(20*time.Minute, 5*time.Second)
	for _, c := range []struct{ at, want time.Duration }{{20 * time.Minute, 12 * time.Second}, {59 * time.Minute, 12 * time.Second},
		{60 * time.Minute, 5 * time.Second}, {81 * time.Minute, 0}, {1000 * time.Hour, 0}} {
		if got := r.sum(c.at); got != c.want {
			t.Errorf("got %v at %v, want %v (worked by hand)", got, c.at, c.want)
		}
	}
}
