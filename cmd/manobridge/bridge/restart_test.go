package bridge_test

import (
	"errors"
	"log/slog"
	"testing"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
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
