package position

import (
	"math"
	"testing"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

func pair(t testing.TB) *Instrument {
	t.Helper()
	low, err := NewTable(TableOptions{Points: points([2]float64{0, 0}, [2]float64{1000, 500}), Unit: "counts", U: quantity.Millimetres(0.1)})
	if err != nil {
		t.Fatal(err)
	}
	return &Instrument{High: image(t, ImageOptions{Fiducials: mm(0, 200), FiducialU: 0.05e-3}), Low: low}
}

func TestWorkFillsInPositions(t *testing.T) {
	r := convert.Reading{LowSignal: convert.Some(500.0), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}
	if note := pair(t).Work(&r, &State{}); note != nil || r.Refusal != nil {
		t.Fatalf("got %v, %v, want neither", note, r.Refusal)
	}
	if math.Abs(r.Low.V.Millimetres()-250) > 1e-9 || math.Abs(r.High.V.Millimetres()-100) > 1e-9 {
		t.Errorf("got low %v mm, high %v mm, want 250 and 100 mm", r.Low.V.Millimetres(), r.High.V.Millimetres())
	}
	if math.Abs(r.LowExtra.U.Millimetres()-0.1) > 1e-9 || r.HighExtra.U <= 0 {
		t.Errorf("got extras %v and %v, want 0.1 mm and more than 0", r.LowExtra, r.HighExtra)
	}
}

// A signal that is not there, or no number, is told of its limb; a reading already refused is left alone.
func TestWorkRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		r    convert.Reading
		want convert.Cause
	}{
		"no low signal":  {convert.Reading{HighSignal: convert.Some(500.0), Camera: rows(900, 100)}, convert.PositionMissing},
		"no high signal": {convert.Reading{LowSignal: convert.Some(500.0)}, convert.PositionMissing},
		"not a number":   {convert.Reading{LowSignal: convert.Some(math.NaN()), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}, convert.NotFinite},
		"off the points": {convert.Reading{LowSignal: convert.Some(1001.0), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}, convert.SignalOffPoints},
		"refused before": {convert.Reading{Refusal: &convert.Refusal{Code: convert.Silence}}, convert.Silence},
	} {
		r := c.r
		if pair(t).Work(&r, &State{}); code(r.Refusal) != c.want {
			t.Errorf("%s: got %v, want %v", name, r.Refusal, c.want)
		}
	}
	// A position sent beside a signal that is to be worked out does not stand in for it.
	r := convert.Reading{Low: convert.Some(quantity.Millimetres(3)), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}
	if pair(t).Work(&r, &State{}); code(r.Refusal) != convert.PositionMissing || r.Low.Set {
		t.Errorf("got %v and low %v, want the low position gone", r.Refusal, r.Low)
	}
}

// The same image again is refused, each time it comes, and the next new one is taken; each instrument has its own count.
func TestFrozenImage(t *testing.T) {
	in, s := pair(t), &State{}
	for i, c := range []struct {
		counter float64
		want    convert.Cause
	}{{41, ""}, {42, ""}, {42, convert.ImageFrozen}, {42, convert.ImageFrozen}, {43, ""}, {0, ""}} {
		r := convert.Reading{LowSignal: convert.Some(500.0), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}
		r.Camera.Counter = convert.Some(c.counter)
		if in.Work(&r, s); code(r.Refusal) != c.want {
			t.Errorf("image %d, counter %v: got %v, want %q", i, c.counter, r.Refusal, c.want)
		}
	}
	r := convert.Reading{LowSignal: convert.Some(500.0), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}
	r.Camera.Counter = convert.Some(0.0)
	if in.Work(&r, &State{}); r.Refusal != nil {
		t.Errorf("another instrument: got %v, want a position", r.Refusal)
	}
}

func BenchmarkWork(b *testing.B) {
	in := pair(b)
	four := &Instrument{Low: image(b, ImageOptions{Fiducials: mm(10, 110, 190, 290), FiducialU: 0.05e-3, MarkRowU: 0.3, RowU: 0.5})}
	camera := pinhole{away: 0.6, height: 0.15, pitch: 0.1, focal: 1800, center: 2540}
	marks := rows(camera.row(0.01), camera.row(0.11), camera.row(0.19), camera.row(0.29))
	for _, c := range []struct {
		name string
		in   *Instrument
		r    convert.Reading
	}{
		{"counts and two marks", in, convert.Reading{LowSignal: convert.Some(500.0), HighSignal: convert.Some(500.0), Camera: rows(900, 100)}},
		{"four marks", four, convert.Reading{LowSignal: convert.Some(camera.row(0.2)), Camera: marks}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r := c.r
				if c.in.Work(&r, &State{}); r.Refusal != nil {
					b.Fatal(r.Refusal)
				}
			}
		})
	}
}
