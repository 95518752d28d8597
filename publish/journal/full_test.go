package journal_test

import (
	"bytes"
	"errors"
	"log/slog"
	"runtime"
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
