package ingest

import (
	"sync/atomic"
	"time"
)

// promise is when the reading goroutine said that it would be back at the latest, since the start of the run; 0 while it does
// not say.
type promise struct{ by atomic.Int64 }

// promiseMargin is what opening a port, or a busy machine, may add to any step.
const promiseMargin = time.Minute

// WatchReads lets Stuck tell of a Read of the port that takes longer than d, which no Read does. Without it a Read may take
// for ever. Call it before Run.
func (s *Source) WatchReads(d time.Duration) { s.link.readWithin = d }

// Stuck tells whether opening or reading the port has not come back though its time is up. A port that is not there, or from
// which nothing comes, is not stuck. It is safe for concurrent use.
func (s *Source) Stuck() bool {
	by := s.link.promise.by.Load()
	return by != 0 && int64(s.link.clock.SinceStart()) > by
}

// within promises to be back in d.
func (l *link) within(d time.Duration) {
	if l.readWithin > 0 {
		l.promise.by.Store(int64(l.clock.SinceStart() + d + promiseMargin))
	}
}
