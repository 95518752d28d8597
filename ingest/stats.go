package ingest

import (
	"maps"
	"time"

	"manobridge/convert"
)

// Stats counts what happened at one port since its Source was made. Each frame found is good, refused for an
// instrument, or unattributed.
type Stats struct {
	Port string
	Open bool

	Bytes  uint64 // received
	Frames uint64 // found
	Good   uint64

	// Refused counts readings without a value by cause, silence and port-gone included, which no frame caused.
	Refused map[convert.Cause]uint64
	// Unattributed counts refused frames that belong to no instrument.
	Unattributed map[convert.Cause]uint64
	// PassedOver counts bytes before the first frame start after each opening, and of frames cut off by a loss.
	PassedOver uint64

	Opens, OpenFailures, Losses uint64

	// Line counts what the driver saw arrive wrong, or lost, while the port was open: parity, framing, overrun, break,
	// buffer-overrun. nil where it does not count, which is not none.
	Line map[string]uint64

	// Waits and Waited say how often and how long handing over had to wait for the consumer.
	Waits  uint64
	Waited time.Duration
	// Stalls and Stalled say how often and how long reading itself had to stop for that; the line may then overrun.
	Stalls  uint64
	Stalled time.Duration

	Instruments map[string]InstrumentStats
}

// InstrumentStats is the state of one instrument at its port.
type InstrumentStats struct {
	Seq      uint64        // of the latest reading
	LastGood time.Duration // since the start of the run; meaningful where Good is not 0
	Good     uint64
	Cause    convert.Cause // silence or port-gone while no good frame comes; else empty
}

// Stats gives the counts so far. It is safe for concurrent use.
func (s *Source) Stats() Stats {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.stats
	c.Line = maps.Clone(c.Line)
	c.Refused, c.Unattributed, c.Instruments = maps.Clone(c.Refused), maps.Clone(c.Unattributed), make(map[string]InstrumentStats, len(s.watches))
	for _, w := range s.watches {
		c.Instruments[w.name] = w.InstrumentStats
	}
	return c
}

// count changes the counts.
func (s *Source) count(change func(*Stats)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(&s.stats)
}
