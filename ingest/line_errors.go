package ingest

import (
	"io"
	"maps"
	"slices"
	"sync"
	"time"
)

// countingPort is a port whose driver counts characters that arrived wrong. The counts start anew at 2^32; nil means that
// it does not count. Its method is safe beside Read and Close.
type countingPort interface{ LineErrors() map[string]uint32 }

// portBox holds the open port, where its driver counts. The reading goroutine sets it, the loop asks.
type portBox struct {
	mu   sync.Mutex
	port countingPort
}

func (b *portBox) set(port io.ReadCloser) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.port, _ = port.(countingPort)
}

func (b *portBox) get() countingPort {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.port
}

const (
	lineErrorsEvery = 10 * time.Second // how often the driver is asked
	lineErrorsSaid  = time.Minute      // how often growing counts are told of
)

// lineErrors watches what the driver counts. It is of the loop alone.
type lineErrors struct {
	at     time.Duration     // of the next look; meaningful where port is not nil
	port   countingPort      // the one asked last; nil where there is none that counts
	last   map[string]uint32 // as the driver had it
	untold map[string]uint64
	toldAt time.Duration
	grew   time.Duration // when the counts grew last
	told   bool          // that they grow; until a quiet minute
}

// lookAtLine asks the driver and tells what is new. What it counted before the opening is not of this run.
func (s *Source) lookAtLine(now time.Duration) {
	l := &s.line
	port := s.link.port.get()
	if port == nil || !s.up {
		l.port = nil
		return
	}
	l.at = now + lineErrorsEvery
	counts := port.LineErrors()
	if counts == nil {
		return
	}
	if l.port != port {
		l.port, l.last = port, counts
		s.count(func(c *Stats) { // from here on it is known that there are none
			if c.Line == nil {
				c.Line = make(map[string]uint64, len(counts))
			}
			for name := range counts {
				c.Line[name] += 0
			}
		})
		return
	}
	for name, n := range counts {
		if more := n - l.last[name]; more > 0 {
			if l.untold == nil {
				l.untold = map[string]uint64{}
			}
			l.untold[name] += uint64(more)
			l.grew = now
			s.count(func(c *Stats) { c.Line[name] += uint64(more) })
		}
	}
	l.last = counts
	switch {
	case len(l.untold) > 0 && (!l.told || now-l.toldAt >= lineErrorsSaid):
		args := []any{"code", "port-errors", "port", s.o.Port}
		for _, name := range slices.Sorted(maps.Keys(l.untold)) {
			args = append(args, name, l.untold[name])
		}
		s.o.Log.Warn("the driver of the port counted characters that arrived wrong or were lost; frames hit by them are refused where the format shows it; "+
			"check baud, parity, cable and earthing, and for overruns the load of this machine", args...)
		l.untold, l.told, l.toldAt = nil, true, now
	case l.told && now-l.grew >= lineErrorsSaid:
		l.told = false
		s.o.Log.Info("characters arrive whole again", "code", "port-errors", "port", s.o.Port)
	}
}

// LineErrors are those of the port that is asked through.
func (a *asking) LineErrors() map[string]uint32 {
	if p, ok := a.port.(countingPort); ok {
		return p.LineErrors()
	}
	return nil
}
