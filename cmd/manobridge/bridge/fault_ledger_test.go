package bridge_test

import (
	"testing"
	"time"

	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// far is what the far ends of a fault test have got.
type far struct {
	subscriber *publishtest.Subscriber // nil: no broker
	within     time.Duration           // live_within; 0 for its default
	stored     []publishtest.Sample    // nil: no store
	resolution time.Duration           // of the times of the store
	digits     float64                 // relative error of its numbers
}

// holdAll enters journal and far ends in the ledger, which holds each number that was given to a frame to its fate. What has
// been acknowledged is not yet at a subscriber: it is waited for.
func holdAll(t *testing.T, l *publishtest.Ledger, path string, f far) {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = r.Close() }()
	gaps, err := r.Gaps(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range gaps {
		if g.Cause == journal.CauseJournalFull || g.Cause == journal.CauseNotKept { // the others took frames that had no number
			l.Gap(g.Run, g.Instrument, g.FromSeq, g.UntilSeq)
		}
	}
	l.Kept(rows(t, path))
	aside, err := r.Quarantined(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range aside {
		l.PutAside(q.Sink, q.Name)
	}
	if f.stored != nil {
		l.Stored("series", f.stored, f.resolution, f.digits)
	}
	if f.subscriber == nil {
		return
	}
	if f.within == 0 {
		f.within = 5 * time.Second
	}
	seen := 0
	eventually(t, "every message at the subscriber", func() bool {
		list := f.subscriber.Messages()
		l.Messages("mqtt", "test-hall", list[seen:], f.within)
		seen = len(list)
		return len(l.Missing("mqtt")) == 0
	})
}
