package bridge_test

import (
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// What was sent while no bridge was running is a gap, from the last reading of the run before to the start.
func TestTimeBetweenRunsIsAGap(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	for i := range 2 {
		x := start(t, config(t, line.Path, path, ""))
		opened(t, x, line)
		line.Send("\n02,100.0,21.0\n03,100.0,21.0\n")
		eventually(t, "the readings", func() bool { return x.b.Counts().Good == 2 })
		x.end()
		r, err := journal.OpenReader(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		gaps, err := r.Gaps(t.Context())
		if err := errors.Join(err, r.Close()); err != nil {
			t.Fatal(err)
		}
		down := 0
		for _, g := range gaps {
			if g.Cause == bridge.CauseBridgeDown {
				down++
			}
		}
		if want := i * 2; down != want {
			t.Errorf("run %d: got %d gaps of no bridge running, want %d: %+v", i+1, down, want, gaps)
		}
	}
}

// Two bridges on one journal: the second is told who holds it, and changes nothing.
func TestOneJournalOneBridge(t *testing.T) {
	line := ingesttest.NewLine(t)
	c := config(t, line.Path, journalPath(t), "")
	start(t, c)
	_, err := bridge.Open(t.Context(), bridge.Options{Config: c, Log: slog.New(slog.DiscardHandler)})
	var held *journal.HeldError
	if !errors.As(err, &held) {
		t.Fatalf("got %v, want the journal to be held", err)
	}
}

// The clock was an hour ahead in the run before: the gap between the runs does not end before it begins.
func TestGapAfterTheClockWasSetBack(t *testing.T) {
	path := journalPath(t)
	ahead := time.Now().Add(time.Hour)
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "r0", Bridge: "bench-pc", Started: ahead})
	if err != nil {
		t.Fatal(err)
	}
	result := publishtest.Result("r0", "bank-1", 1)
	result.ReceivedAt = ahead.Add(time.Minute)
	_, err = j.OpenGap(t.Context(), journal.Gap{Instrument: "bank-1", Run: "r0", Cause: convert.Silence, From: ahead.Add(2 * time.Minute)})
	if err := errors.Join(err, j.Append(t.Context(), []convert.Result{result}), j.Close()); err != nil {
		t.Fatal(err)
	}
	start(t, config(t, ingesttest.NewLine(t).Path, path, "")).end()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	gaps, err := r.Gaps(t.Context())
	if err := errors.Join(err, r.Close()); err != nil {
		t.Fatal(err)
	}
	if len(gaps) != 2 {
		t.Fatalf("got gaps %+v, want the silence and one of no bridge running", gaps)
	}
	for _, g := range gaps {
		if g.Until.IsZero() || g.From.After(g.Until) {
			t.Errorf("got a gap of %s from %v until %v, want an end that is not before the beginning", g.Cause, g.From, g.Until)
		}
		if g.Cause == bridge.CauseBridgeDown && !strings.Contains(g.Note, "set back") {
			t.Errorf("got the gap noted %q, want the clock named", g.Note)
		}
	}
}
