package ingesttest

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/frame"
)

// Bench is the format of the tests of reading: address, low-limb position, liquid temperature.
func Bench() frame.Options {
	return frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm", "temperature_c"}}
}

// Options gives options for one port with instruments duct-2 at address 02 and duct-3 at 03, on the system's clock.
func Options(tb testing.TB, open ingest.Opener, log *slog.Logger) ingest.Options {
	tb.Helper()
	d, err := frame.New(Bench())
	if err != nil {
		tb.Fatal(err)
	}
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return ingest.Options{
		Run: "run1", Port: "rack-a", Open: open, Decoder: d, Instruments: map[string]string{"02": "duct-2", "03": "duct-3"},
		Silence: time.Hour, RetryMin: time.Millisecond, RetryMax: 20 * time.Millisecond,
		Clock: ingest.SystemClock(time.Now()), Log: log, Jitter: func() float64 { return 0.5 },
	}
}

// Running is a Source at work whose items are kept. When the test ends it is stopped, and the ledger checked: each
// instrument's numbers run from 1 without a hole, in order, and so do the port's events.
type Running struct {
	Source *ingest.Source

	tb      testing.TB
	stop    context.CancelFunc
	stopped chan struct{}
	mu      sync.Mutex
	items   []ingest.Item
}

// Run starts the source.
func Run(tb testing.TB, o ingest.Options) *Running {
	tb.Helper()
	src, err := ingest.New(o)
	if err != nil {
		tb.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	r := &Running{Source: src, tb: tb, stop: stop, stopped: make(chan struct{})}
	out := make(chan ingest.Item)
	go func() {
		defer close(out)
		if err := src.Run(ctx, out); err != nil {
			tb.Errorf("run: %v", err)
		}
	}()
	go func() {
		defer close(r.stopped)
		for it := range out {
			r.mu.Lock()
			r.items = append(r.items, it)
			r.mu.Unlock()
		}
	}()
	tb.Cleanup(func() {
		r.Stop()
		CheckLedger(tb, r.Items())
		checkStats(tb, src.Stats())
	})
	return r
}

// Stop ends the source and waits until everything is handed over.
func (r *Running) Stop() {
	r.stop()
	<-r.stopped
}

// Items gives what has arrived.
func (r *Running) Items() []ingest.Item {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.items)
}

// Readings gives the instrument's readings that have arrived.
func (r *Running) Readings(instrument string) (readings []convert.Reading) {
	for _, it := range r.Items() {
		if it.Event == nil && it.Reading.Instrument == instrument {
			readings = append(readings, it.Reading)
		}
	}
	return readings
}

// Frames gives the raw frames of the instrument's readings, refused ones marked by their code in front.
func (r *Running) Frames(instrument string) (frames []string) {
	for _, rd := range r.Readings(instrument) {
		text := string(rd.Frame)
		if rd.Refusal != nil {
			text = strings.TrimSpace(string(rd.Refusal.Code) + " " + text)
		}
		frames = append(frames, text)
	}
	return frames
}

// Events gives the events of one kind that have arrived.
func (r *Running) Events(kind ingest.EventKind) (events []ingest.PortEvent) {
	for _, it := range r.Items() {
		if it.Event != nil && it.Event.Kind == kind {
			events = append(events, *it.Event)
		}
	}
	return events
}

// WantFrames waits until the instrument has sent that many readings, and compares them.
func (r *Running) WantFrames(instrument string, want ...string) {
	r.tb.Helper()
	Eventually(r.tb, "readings of "+instrument, func() bool { return len(r.Frames(instrument)) >= len(want) })
	if got := r.Frames(instrument); !slices.Equal(got, want) {
		r.tb.Errorf("readings of %s: got %q, want %q", instrument, got, want)
	}
}

// CheckLedger checks that no number is missing, doubled or out of order, and that no clock ran backward.
func CheckLedger(tb testing.TB, items []ingest.Item) {
	tb.Helper()
	seq := make(map[string]uint64)
	var event uint64
	for _, it := range items {
		if it.Event != nil {
			event++
			if it.Event.Seq != event {
				tb.Errorf("ledger: event %d of port %s, want %d", it.Event.Seq, it.Event.Port, event)
			}
			continue
		}
		rd := it.Reading
		seq[rd.Instrument]++
		if rd.Seq != seq[rd.Instrument] {
			tb.Errorf("ledger: reading %d of %s, want %d", rd.Seq, rd.Instrument, seq[rd.Instrument])
		}
		if rd.Refusal == nil && rd.Frame == nil {
			tb.Errorf("ledger: reading %d of %s has neither frame nor refusal", rd.Seq, rd.Instrument)
		}
	}
}

// checkStats checks that the counts add up: each frame is good, refused for an instrument, or unattributed.
func checkStats(tb testing.TB, s ingest.Stats) {
	tb.Helper()
	sum := s.Good
	for cause, n := range s.Refused {
		if cause != convert.Silence && cause != convert.PortGone {
			sum += n
		}
	}
	for _, n := range s.Unattributed {
		sum += n
	}
	if sum != s.Frames {
		tb.Errorf("ledger: %d frames found, %d accounted for: %+v", s.Frames, sum, s)
	}
}
