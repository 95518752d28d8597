package simulate

import (
	"math"
	"testing"
)

func TestLedgerAddsUp(t *testing.T) {
	h := build(t, TestHall(), 8)
	l := NewLedger()
	line := h.Line("slant-rack", 0.2)
	written := map[string]int{}
	var size int64
	var due []Frame
	for range 2000 {
		f := line.Next()
		l.Sending(f)
		written[f.Fate.String()]++
		size += int64(len(f.Bytes))
		for range f.Fate.Readings() {
			due = append(due, f)
		}
	}
	a := l.Account()
	total := 0
	for fate, n := range a.Written {
		total += n
		if n != written[fate] {
			t.Errorf("%s: got %d, want %d", fate, n, written[fate])
		}
	}
	if total != 2000 || a.Bytes != size || a.Due != len(due) || a.Waiting != len(due) {
		t.Errorf("got %d frames, %d bytes, %d due, %d waiting; want 2000, %d, %d, %d", total, a.Bytes, a.Due, a.Waiting, size, len(due), len(due))
	}

	// Deliver all but the fifth, each off by half its expanded uncertainty; the sixth off by twice that.
	for i, f := range due {
		if i == 5 {
			continue
		}
		off := 0.5
		if i == 6 {
			off = 1.5
		}
		got, ok := l.Delivered(Delivered{Instrument: f.Instrument, Frame: f.Text, HasPressure: i != 7,
			PressurePa: f.PressurePa - off, CombinedPa: 0.5, ExpandedPa: 1})
		if !ok || got.At != f.At {
			t.Fatalf("reading %d: got the frame of %v (%t), want that of %v", i, got.At, ok, f.At)
		}
	}
	if _, ok := l.Delivered(Delivered{Instrument: "bank-a", Frame: "01,999.99,20.00"}); ok {
		t.Error("a frame never written was found")
	}
	a = l.Account()
	n := len(due)
	if a.Paired != n-1 || a.Missing != 1 || a.Unexpected != 1 || a.Waiting != 0 {
		t.Errorf("got %d paired, %d missing, %d unexpected, %d waiting; want %d, 1, 1, 0", a.Paired, a.Missing, a.Unexpected, a.Waiting, n-1)
	}
	if a.WithValue != n-2 || a.Within != n-3 {
		t.Errorf("got %d with a value, %d within; want %d, %d", a.WithValue, a.Within, n-2, n-3)
	}
	if want := float64(n-3) + 9; math.Abs(a.SumSquare-want) > 1e-6 {
		t.Errorf("sum of squares: got %.6f, want %.6f ± 1e-6", a.SumSquare, want)
	}
}

func TestLedgerIsBounded(t *testing.T) {
	l := NewLedger()
	for range keepFrames + 25 {
		l.Sending(Frame{Instrument: "bank-a", Text: "01,1.00,20.00"})
	}
	if a := l.Account(); a.Waiting != keepFrames || a.Missing != 25 || a.Due != keepFrames+25 {
		t.Errorf("got %d waiting, %d missing, %d due; want %d, 25, %d", a.Waiting, a.Missing, a.Due, keepFrames, keepFrames+25)
	}
}

func TestWithdrawnFrameIsNotDue(t *testing.T) {
	h := build(t, TestHall(), 8)
	l := NewLedger()
	line := h.Line("slant-rack", 0)
	kept, withdrawn := line.Next(), line.Next()
	l.Sending(kept)
	l.Sending(withdrawn)
	l.Withdraw(withdrawn)
	a := l.Account()
	if a.Written["good"] != 1 || a.Due != 1 || a.Waiting != 1 || a.Bytes != int64(len(kept.Bytes)) {
		t.Errorf("got %v, %d due, %d waiting, %d bytes; want 1 good, 1, 1, %d", a.Written, a.Due, a.Waiting, a.Bytes, len(kept.Bytes))
	}
	if _, ok := l.Delivered(Delivered{Instrument: withdrawn.Instrument, Frame: withdrawn.Text}); ok {
		t.Error("a withdrawn frame was found")
	}
}
