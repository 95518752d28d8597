package journal_test

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// While the disk is full whoever asks for something that only he can repeat is told so at once, also where more is held
// than one group takes: the loop that keeps states of limits and instruments reads the ports, too. Here the next try to
// write is an hour away.
func TestFullDiskKeepsNobodyWaiting(t *testing.T) {
	j, err := journal.Open(t.Context(), journal.Options{Path: file(t), Run: "now", Bridge: "rack-pc", Started: publishtest.Epoch(),
		Retry: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if err := j.LimitPages(1); err != nil {
		t.Fatal(err)
	}
	for seq := uint64(1); j.Stats().Waiting < 2000; seq += 100 {
		if err := j.Append(t.Context(), publishtest.Series("now", "suite-a", seq, seq+99)); err != nil && !errors.Is(err, journal.ErrHeld) {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	_, begun := j.AddExcursion(ctx, journal.Excursion{Limit: "suite-a low", Start: publishtest.Epoch(), JSON: "{}"})
	_, acted := j.AppendAct(ctx, func(journal.Act) journal.Act { return journal.Act{Who: "lab", What: "zero"} })
	for what, err := range map[string]error{
		"a state":           j.Keep(ctx, "limit/suite-a low", []byte("{}")),
		"an excursion":      begun,
		"an act":            acted,
		"a cursor":          j.SaveCursor(ctx, "series", publish.Cursor{Live: 1}),
		"a coefficient set": j.AddCoefficientSet(ctx, journal.CoefficientSet{Hash: "a", Instrument: "suite-a", Text: "{}"}),
	} {
		if err == nil || ctx.Err() != nil {
			t.Errorf("%s on a full disk: got %v, want at once that the disk is full", what, err)
		}
	}
	if err := j.LimitPages(1 << 30); err != nil {
		t.Fatal(err)
	}
}

// What was handed over just before the disk was found full, and waits behind what is held, is given back too.
func TestFullDiskGivesBackWhatWasWaiting(t *testing.T) {
	j, err := journal.Open(t.Context(), journal.Options{Path: file(t), Run: "now", Bridge: "rack-pc", Started: publishtest.Epoch(),
		Retry: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if err := j.LimitPages(1); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error)
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	stop := make(chan struct{})
	go func() {
		defer close(ended)
		for {
			if err := j.Keep(ctx, "small", []byte("{}")); err != nil && ctx.Err() != nil {
				ended <- err
				return
			}
			select {
			case <-stop:
				return
			default:
			}
		}
	}()
	for seq := uint64(1); j.Stats().Waiting < 2000; seq += 400 {
		if err := j.Append(t.Context(), publishtest.Series("now", "suite-a", seq, seq+399)); err != nil && !errors.Is(err, journal.ErrHeld) {
			t.Fatal(err)
		}
	}
	close(stop)
	if err := <-ended; err != nil {
		t.Errorf("got %v for a state on a full disk, want it given back", err)
	}
	if err := j.LimitPages(1 << 30); err != nil {
		t.Fatal(err)
	}
	publishtest.Eventually(t, "the disk has room and a state is kept", func() bool {
		runtime.Gosched()
		return j.Keep(t.Context(), "small", []byte("{}")) == nil
	})
}
