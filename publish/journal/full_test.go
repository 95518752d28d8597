package journal_test

import (
	"bytes"
	"errors"
	"log/slog"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// logBuffer collects log lines from several goroutines.
type logBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logBuffer) count(s string) int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.Count(l.b.String(), s)
}

func logTo(l *logBuffer) *slog.Logger { return slog.New(slog.NewTextHandler(l, nil)) }

func TestFullDiskHoldsCountsAndRecovers(t *testing.T) {
	var lines logBuffer
	j, err := journal.Open(t.Context(), journal.Options{
		Path: file(t), Run: "now", Bridge: "rack-pc", Started: publishtest.Epoch(),
		Held: 1000, Retry: time.Millisecond, Logger: slog.New(slog.NewTextHandler(&lines, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	add(t, j, publishtest.Series("now", "suite-a", 1, 100)...)
	if err := j.LimitPages(1); err != nil { // a limit below the present size means the present size
		t.Fatal(err)
	}
	seq := uint64(101)
	for held := 0; held < 20; seq += 100 {
		err := j.Append(t.Context(), publishtest.Series("now", "suite-a", seq, seq+99))
		if errors.Is(err, journal.ErrHeld) {
			held++
		} else if err != nil {
			t.Fatal(err)
		}
	}
	last := seq - 1
	stats := j.Stats()
	if stats.Full == nil || stats.Waiting > 1000 || stats.Lost == 0 {
		t.Errorf("got %+v, want full, at most 1000 waiting and some lost", stats)
	}
	if err := j.RecordGap(t.Context(), journal.Gap{Instrument: "suite-b", Run: "now", Cause: "port-gone", From: publishtest.Epoch(), Until: publishtest.Epoch()}); !errors.Is(err, journal.ErrHeld) {
		t.Errorf("got %v for a gap on a full disk, want it held", err)
	}
	if err := j.LimitPages(1 << 30); err != nil {
		t.Fatal(err)
	}
	deadline := time.Now().Add(10 * time.Second)
	for j.Stats().Full != nil || j.Stats().Waiting > 0 {
		if time.Now().After(deadline) {
			t.Fatalf("not recovered: %+v", j.Stats())
		}
		runtime.Gosched()
	}
	add(t, j, publishtest.Result("now", "suite-a", last+1))

	// the ledger: every seq is a row or in a counted gap, once
	covered := map[uint64]int{}
	for _, row := range all(t, j.Reader, journal.Query{}) {
		covered[row.Seq]++
	}
	gaps, err := j.Gaps(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var counted, other int64
	for _, g := range gaps {
		if g.Cause != journal.CauseJournalFull {
			other++
			continue
		}
		counted += g.Count
		if got := int64(g.UntilSeq - g.FromSeq + 1); got != g.Count {
			t.Errorf("gap %d to %d: got count %d, want %d", g.FromSeq, g.UntilSeq, g.Count, got)
		}
		for seq := g.FromSeq; seq <= g.UntilSeq; seq++ {
			covered[seq]++
		}
	}
	for seq := uint64(1); seq <= last+1; seq++ {
		if covered[seq] != 1 {
			t.Fatalf("seq %d: got %d times in rows and gaps, want once", seq, covered[seq])
		}
	}
	if counted != j.Stats().Lost || other != 1 {
		t.Errorf("got %d lost in gaps and %d other gaps, want %d and 1", counted, other, j.Stats().Lost)
	}
	if full, well := lines.count("code=journal-full"), lines.count("code=journal-recovered"); full != well || full == 0 || full > 3 {
		t.Errorf("got %d lines of full and %d of recovery, want one each for every change", full, well)
	}
}

// What is recorded beside results waits in memory for room as they do, and nobody waits for it; an open gap is closed
// by the number it was given while it could not be written.
func TestFullDiskHoldsGapsAndEvents(t *testing.T) {
	var told []journal.Event
	var telling sync.Mutex
	j, err := journal.Open(t.Context(), journal.Options{Path: file(t), Run: "now", Bridge: "rack-pc", Started: publishtest.Epoch(),
		Retry: time.Millisecond, Notice: func(e journal.Event) {
			telling.Lock()
			defer telling.Unlock()
			told = append(told, e)
		}})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	add(t, j, publishtest.Series("now", "suite-a", 1, 100)...)
	before, err := j.OpenGap(t.Context(), journal.Gap{Instrument: "suite-b", Run: "now", Cause: "silence", From: publishtest.Epoch()})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.LimitPages(1); err != nil {
		t.Fatal(err)
	}
	var seq uint64 = 101
	for ; j.Stats().Full == nil; seq += 100 {
		if err := j.Append(t.Context(), publishtest.Series("now", "suite-a", seq, seq+99)); err != nil && !errors.Is(err, journal.ErrHeld) {
			t.Fatal(err)
		}
	}
	id, err := j.OpenGap(t.Context(), journal.Gap{Instrument: "suite-c", Run: "now", Cause: "port-gone", From: publishtest.Epoch()})
	if !errors.Is(err, journal.ErrHeld) {
		t.Fatalf("got %v, want held", err)
	}
	until := publishtest.Epoch().Add(time.Minute)
	for _, err := range []error{
		j.CloseGap(t.Context(), before, until, 7, 0), j.CloseGap(t.Context(), id, until, 9, 2),
		j.RecordEvent(t.Context(), journal.Event{Run: "now", Time: until, Code: "clock-step"}),
		j.RecordPortRefusal(t.Context(), journal.PortRefusal{Run: "now", Port: "rack-a", ReceivedAt: until}),
	} {
		if !errors.Is(err, journal.ErrHeld) {
			t.Errorf("got %v, want held", err)
		}
	}
	if err := j.LimitPages(1 << 30); err != nil {
		t.Fatal(err)
	}
	var events []journal.Event
	publishtest.Eventually(t, "what was held is written", func() bool {
		if events, err = j.Events(t.Context()); err != nil {
			t.Fatal(err)
		}
		return len(events) == 3 && j.Stats().Waiting == 0
	})
	// The writer notes by itself that the disk is full, so that may come behind what was handed over meanwhile.
	var codes []string
	for _, e := range events {
		codes = append(codes, e.Code)
	}
	slices.Sort(codes)
	want := []string{journal.EventFull, "clock-step", journal.EventRecovered}
	if slices.Sort(want); !slices.Equal(codes, want) || events[2].Code != journal.EventRecovered {
		t.Errorf("got events %+v, want %v, the last of them that it has recovered", events, want)
	}
	gaps, err := j.Gaps(t.Context())
	if err != nil || len(gaps) != 2 || !gaps[0].Until.Equal(until) || gaps[0].UntilSeq != 7 || gaps[1].Instrument != "suite-c" || gaps[1].UntilSeq != 9 || !gaps[1].Until.Equal(until) {
		t.Errorf("got gaps %+v, %v, want both ended", gaps, err)
	}
	if list, err := j.PortRefusals(t.Context()); err != nil || len(list) != 1 {
		t.Errorf("got port refusals %+v, %v, want one", list, err)
	}
	telling.Lock()
	defer telling.Unlock()
	if len(told) != 2 || told[0].Code != journal.EventFull || told[1].Code != journal.EventRecovered {
		t.Errorf("got told %+v, want that it was full and recovered, once each", told)
	}
}
