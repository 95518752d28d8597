package ingest

import (
	"context"
	"iter"
	"time"

	"manobridge/ingest/frame"
	"manobridge/ingest/recording"
)

// Play takes a recording in place of the port: each read as if it came at its recorded time, so that readings, intervals
// and silence are those of the line that was recorded, however fast it is played. Options.Open and Options.Clock are not
// used. before, where not nil, is called ahead of each read with how long after the first it came, and may wait; false
// from it ends the playing, and so does the end of ctx. After the last read there is no silence, since nothing is known.
//
// It returns the error of reads, if any; what was sent before stands. Call it once, and not Run.
func (s *Source) Play(ctx context.Context, reads iter.Seq2[recording.Read, error], before func(since time.Duration) bool, out chan<- Item) error {
	s.out = out
	var hand frame.Stamp
	s.o.Clock = Clock{Now: func() time.Time { return hand.Wall }, SinceStart: func() time.Duration { return hand.Mono }}
	s.downAt = 0
	defer s.end()
	for r, err := range reads {
		if err != nil {
			return err
		}
		if ctx.Err() != nil || before != nil && !before(r.Since) {
			return nil
		}
		at := frame.Stamp{Wall: r.At, Mono: r.Since}
		if !s.wasUp {
			hand = at
			s.portOpened(&message{kind: opened, at: at})
		}
		for {
			next := s.nextLook(hand.Mono)
			if hand.Mono+next >= at.Mono {
				break
			}
			hand = frame.Stamp{Wall: hand.Wall.Add(next), Mono: hand.Mono + next}
			s.look(hand)
		}
		hand = at
		s.decode(r.Bytes, at)
	}
	return nil
}
