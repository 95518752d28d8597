package simulate

import (
	"math"
	"testing"
	"time"
)

func TestStoryStaysOnScaleAndInRange(t *testing.T) {
	for seed := range uint64(5) {
		h := build(t, TestHall(), seed)
		for _, in := range h.Declared.Instruments {
			for at := time.Duration(0); at < time.Hour; at += 317 * time.Millisecond {
				p, temp := h.Story.PressurePa(in.Name, at), h.Story.LiquidC(in.Name, at)
				high, low, _ := h.Settled(in.Name, p, temp)
				if p < in.RangePa[0] || p > 0.9*in.RangePa[1] {
					t.Fatalf("%s at %v: %.1f Pa, want 0 to 90 %% of %g Pa", in.Name, at, p, in.RangePa[1])
				}
				onScale := func(mm float64, l Limb) bool {
					margin := 0.03 * (l.ScaleMm[1] - l.ScaleMm[0])
					return l.ScaleMm[1] == 0 || (mm > l.ScaleMm[0]+margin && mm < l.ScaleMm[1]-margin)
				}
				if !onScale(high, in.High) || !onScale(low, in.Low) {
					t.Fatalf("%s at %v: %.1f mm and %.1f mm, want on the scale", in.Name, at, high, low)
				}
				if temp < 18 || temp > 26 {
					t.Fatalf("%s at %v: liquid at %.1f °C", in.Name, at, temp)
				}
			}
		}
	}
}

func TestBanksLoadAndAreChanged(t *testing.T) {
	b := bank{100, 300, 200 * time.Second}
	if got := b.pa(0, 0); got != 100 {
		t.Errorf("new bank: got %g Pa, want 100", got)
	}
	before := b.pa(199900*time.Millisecond, 0)
	if math.Abs(before-300) > 1 {
		t.Errorf("loaded bank: got %.2f Pa, want 300 ± 1", before)
	}
	if got := b.pa(201100*time.Millisecond, 0); got > 102 {
		t.Errorf("a second after the change: got %.2f Pa, want 100 to 102", got)
	}
	last := 0.0
	for s := range 199 {
		p := b.pa(time.Duration(s)*time.Second, 0)
		if p <= last {
			t.Fatalf("loading: %.3f Pa at %d s after %.3f", p, s, last)
		}
		last = p
	}
}

func TestCascadeHoldsAndDoorsDip(t *testing.T) {
	d := newDustDay(4).(*dustDay)
	deepest := []float64{1e9, 1e9, 1e9}
	for at := time.Duration(0); at < 30*time.Minute; at += 100 * time.Millisecond {
		a, g, f := d.room(0, at), d.room(1, at), d.room(2, at)
		if !(4 < a && a < g && g < f && f < 40) {
			t.Fatalf("at %v: %.1f, %.1f, %.1f Pa, want rising inwards between 4 and 40", at, a, g, f)
		}
		for i, p := range []float64{a, g, f} {
			deepest[i] = min(deepest[i], p)
		}
		for i := range cascade {
			// No jump faster than the door: 0.6 of 14 Pa with 0.25 s, in 0.1 s.
			if step := math.Abs(d.room(i, at+100*time.Millisecond) - d.room(i, at)); step > 4 {
				t.Fatalf("room %d at %v: step of %.1f Pa in 0.1 s, want at most 4", i, at, step)
			}
		}
	}
	for i, p := range deepest {
		if p > cascade[i]-5 {
			t.Errorf("room %d: deepest dip to %.1f Pa in half an hour, want below %.1f", i, p, cascade[i]-5)
		}
	}
}
