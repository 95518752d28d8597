package ingest

import (
	"sync/atomic"
	"time"

	"manobridge/ingest/frame"
)

// Clock is both clocks. Timers inside the package run on package time, which stands still while the machine sleeps;
// otherwise SinceStart must run at its pace.
type Clock struct {
	Now        func() time.Time     // wall clock
	SinceStart func() time.Duration // monotonic, from the start of the run
	// Slept is how long of SinceStart the machine slept; nil where that is not known.
	Slept func() time.Duration
}

// SystemClock is the clock of the system; start is the moment, read from time.Now, that SinceStart counts from. Time that
// the machine sleeps counts, where the system tells of it, so that what is old after a sleep is known to be.
func SystemClock(start time.Time) Clock {
	c := Clock{Now: time.Now, SinceStart: func() time.Duration { return time.Since(start) }}
	if base, ok := sleepLead(); ok {
		for range 5 { // one of them is not held up
			if lead, ok := sleepLead(); ok {
				base = max(base, lead)
			}
		}
		s := &sleep{lead: sleepLead, base: base}
		c.Slept = s.slept
		c.SinceStart = func() time.Duration { return time.Since(start) + s.slept() }
	}
	return c
}

func (c Clock) stamp() frame.Stamp { return frame.Stamp{Wall: c.Now().UTC(), Mono: c.SinceStart()} }

// sleep knows how long the machine has slept since it was made.
type sleep struct {
	// lead gives how far the clock that runs on in a sleep is ahead of the one that does not. They cannot be read in one
	// moment, so that it may come out short by as long as this program was held up between the two, and is never long.
	lead  func() (d time.Duration, ok bool)
	base  time.Duration
	known atomic.Int64 // the longest so far: sleep is never taken back
}

// wink is what is taken for an inexact reading of the two clocks, and not for sleep. A machine takes longer to fall asleep
// and wake up.
const wink = 10 * time.Millisecond

func (s *sleep) slept() time.Duration {
	lead, ok := s.lead()
	for {
		known := s.known.Load()
		d := int64(lead - s.base)
		if !ok || d-known < int64(wink) {
			return time.Duration(known)
		}
		if s.known.CompareAndSwap(known, d) {
			return time.Duration(d)
		}
	}
}
