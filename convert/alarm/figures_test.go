package alarm

import (
	"math"
	"testing"
	"time"
)

func call(name, priority string, at float64, clearedAfter float64) Annunciation {
	a := Annunciation{Alarm: name, Priority: priority, At: noon.Add(time.Duration(at * float64(time.Minute)))}
	if clearedAfter > 0 {
		a.Cleared = a.At.Add(time.Duration(clearedAfter * float64(time.Second)))
	}
	return a
}

// All by hand: 12 annunciations in the first 6 minutes of an hour, one of them standing.
func TestFigures(t *testing.T) {
	var all []Annunciation
	for i := range 12 {
		all = append(all, call("door", "low", float64(i)/2, 60))
	}
	all = append(all, call("filter", "high", 45, 2))
	all = append(all, Annunciation{Alarm: "old", Priority: "low", At: noon.Add(-30 * time.Hour)})
	f := FiguresOf(all, noon, noon.Add(time.Hour))
	if f.Annunciations != 13 || math.Abs(f.PerTenMinutes-13.0/6) > 1e-12 || f.Peak != 12 {
		t.Errorf("got %d annunciations, %g per 10 min, peak %d, want 13, %g, 12", f.Annunciations, f.PerTenMinutes, f.Peak, 13.0/6)
	}
	// The 11th comes at 5.0 min; fewer than 5 are left when the 8th (at 3.5 min) leaves the window, at 13.5 min.
	if want := 8*time.Minute + 30*time.Second; f.FloodTime != want {
		t.Errorf("got a flood of %v, want %v", f.FloodTime, want)
	}
	// Three within a minute: 0, 0.5, 1 | 1.5, 2, 2.5 | 3, 3.5, 4 | 4.5, 5, 5.5.
	if len(f.Chattering) != 1 || f.Chattering[0] != (Count{"door", 4}) {
		t.Errorf("got chattering %v, want door in 4 separate minutes", f.Chattering)
	}
	if len(f.Fleeting) != 1 || f.Fleeting[0] != (Count{"filter", 1}) || len(f.Stale) != 1 || f.Stale[0].Alarm != "old" {
		t.Errorf("got fleeting %v and stale %v, want filter and old", f.Fleeting, f.Stale)
	}
	if f.TopTen[0] != (Count{"door", 12}) || math.Abs(f.TopTenShare-1) > 1e-12 || f.Priorities[0] != (Count{"low", 12}) || f.Priorities[1] != (Count{"high", 1}) {
		t.Errorf("got top ten %v, priorities %v", f.TopTen, f.Priorities)
	}
}

func TestFiguresOfNothing(t *testing.T) {
	if f := FiguresOf(nil, noon, noon); f.Annunciations != 0 || f.PerTenMinutes != 0 || math.IsNaN(f.FloodShare) || math.IsNaN(f.TopTenShare) {
		t.Errorf("got %+v, want nothing", f)
	}
}

// One more than ten make a flood, ten do not.
func TestFloodThreshold(t *testing.T) {
	var ten []Annunciation
	for i := range 10 {
		ten = append(ten, call("a", "low", float64(i)*0.9, 0))
	}
	if f := FiguresOf(ten, noon, noon.Add(time.Hour)); f.FloodTime != 0 || f.Peak != 10 {
		t.Errorf("got a flood of %v with a peak of %d, want none with 10", f.FloodTime, f.Peak)
	}
	if f := FiguresOf(append(ten, call("a", "low", 9, 0)), noon, noon.Add(time.Hour)); f.FloodTime == 0 || f.Peak != 11 {
		t.Errorf("got a flood of %v with a peak of %d, want one with 11", f.FloodTime, f.Peak)
	}
}
