package journal_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// smallDisk mounts a file system of that size in memory.
func smallDisk(t *testing.T, size string) string {
	t.Helper()
	dir := t.TempDir()
	err := unix.Mount("manobridge-test", dir, "tmpfs", 0, "size="+size)
	if errors.Is(err, unix.EPERM) || os.Getuid() != 0 { // also in a container of CI, which may not mount
		t.Skipf("SKIPPED: a small file system cannot be mounted here (%v), which takes root and CAP_SYS_ADMIN; the journal on a really full disk is NOT tried", err)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Errorf("unmount: %v", err)
		}
	})
	return dir
}

// On a disk that is really full reading goes on, what fits is held, the rest is counted exactly, and all of it is in the
// journal when there is room again: without a restart, and without a word in between.
func TestReallyFullDisk(t *testing.T) {
	dir := smallDisk(t, "2m")
	var lines logBuffer
	path := filepath.Join(dir, "journal.db")
	const held = 3000
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "now", Bridge: "rack-pc", Started: publishtest.Epoch(),
		Held: held, Retry: 5 * time.Millisecond, MarkEvery: time.Millisecond, Logger: logTo(&lines)})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	ledger := publishtest.NewLedger(t, "kept")
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	seq := uint64(1)
	next := func(n uint64) error {
		batch := publishtest.Series("now", "suite-a", seq, seq+n-1)
		seq += n
		ledger.Given(batch...)
		return j.Append(t.Context(), batch)
	}
	for deadline := time.Now().Add(publishtest.Patience); j.Stats().Lost < 1000; {
		if time.Now().After(deadline) {
			t.Fatalf("the disk never got full: %+v", j.Stats())
		}
		if err := next(200); err != nil && !errors.Is(err, journal.ErrHeld) {
			t.Fatal(err)
		}
	}
	id, err := j.OpenGap(t.Context(), journal.Gap{Instrument: "suite-b", Run: "now", Cause: "silence", From: publishtest.Epoch()})
	if !errors.Is(err, journal.ErrHeld) {
		t.Errorf("got %v for a gap, want held", err)
	}
	if s := j.Stats(); s.Full == nil || s.Waiting > held {
		t.Errorf("got %+v, want full and at most %d waiting", s, held)
	}
	if full, well := lines.count("code=journal-full"), lines.count("code=journal-recovered"); full != 1 || well != 0 {
		t.Errorf("got %d lines of full and %d of recovery, want it said once", full, well)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	publishtest.Eventually(t, "it recovers by itself", func() bool { s := j.Stats(); return s.Full == nil && s.Waiting == 0 })
	if err := j.CloseGap(t.Context(), id, publishtest.Epoch().Add(time.Minute), 0, 0); err != nil {
		t.Fatal(err)
	}
	if err := next(50); err != nil {
		t.Fatal(err)
	}
	lost := j.Stats().Lost
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}

	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	rows := all(t, r, journal.Query{})
	ledger.Delivered("kept", rows...)
	var counted int64
	gaps, err := r.Gaps(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range gaps {
		if g.Cause != journal.CauseJournalFull {
			continue
		}
		counted += g.Count
		ledger.Gap(g.Run, g.Instrument, g.FromSeq, g.UntilSeq)
	}
	if counted != lost || int64(len(rows))+lost != int64(seq-1) {
		t.Errorf("got %d in gaps, %d lost, %d kept, want them to make %d", counted, lost, len(rows), seq-1)
	}
	events, err := r.Events(t.Context())
	if err != nil || len(events) != 2 || events[0].Code != journal.EventFull || events[1].Code != journal.EventRecovered {
		t.Errorf("got events %+v, %v, want that it was full, and that it recovered", events, err)
	}
}
