package ingest

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
)

// Numbers are what a run has numbered so far: they go on where a port is opened anew, or an instrument moves.
type Numbers struct {
	Readings map[string]uint64 // the latest seq of each instrument
	Events   uint64            // the latest of the port
}

// Numbers gives those of a Source whose Run has returned.
func (s *Source) Numbers() Numbers {
	n := Numbers{Readings: make(map[string]uint64, len(s.watches)), Events: s.eventSeq}
	for name, in := range s.Stats().Instruments {
		n.Readings[name] = in.Seq
	}
	return n
}

// Continue lets the numbers go on after n, so that no name is given twice in a run. Call it before Run.
func (s *Source) Continue(n Numbers) {
	s.eventSeq = n.Events
	for _, w := range s.watches {
		w.Seq = max(w.Seq, n.Readings[w.name])
	}
}

// Instruments gives the name of the instrument at each address.
func (s *Source) Instruments() map[string]string {
	s.mu.Lock()
	defer s.mu.Unlock()
	at := make(map[string]string, len(s.watches))
	for _, w := range s.watches {
		at[w.address] = w.name
	}
	return at
}

// Reassign replaces the instruments at the port while it runs: nothing that was read is lost, those that stay keep their
// state, and new ones go on after the given seqs. What was read before is still the old ones'. It returns the latest seqs
// of those that are gone. It fails where ctx ends first, and then changes nothing.
func (s *Source) Reassign(ctx context.Context, at map[string]string, after map[string]uint64) (gone map[string]uint64, err error) {
	if len(at) == 0 {
		return nil, errors.New("instruments: none")
	}
	done := make(chan struct{})
	change := func() {
		defer close(done)
		gone = s.reassign(at, after)
	}
	select {
	case s.changes <- change:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	<-done
	return gone, nil
}

// changed runs a change, after what was read before it.
func (s *Source) changed(change func()) {
	for range len(s.link.in) {
		if m, ok := <-s.link.in; ok {
			s.handle(m)
		}
	}
	change()
	s.dirty = true
}

func (s *Source) reassign(at map[string]string, after map[string]uint64) (gone map[string]uint64) {
	now := s.o.Clock.SinceStart()
	known := make(map[string]*watch, len(s.watches))
	for _, w := range s.watches {
		known[w.name] = w
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.o.Instruments, s.at, s.watches = maps.Clone(at), make(map[string]*watch, len(at)), nil
	for address, name := range at {
		w := known[name]
		delete(known, name)
		if w == nil {
			w = &watch{name: name, since: now}
		}
		w.address, w.Seq = address, max(w.Seq, after[name])
		s.at[address] = w
		s.watches = append(s.watches, w)
	}
	slices.SortFunc(s.watches, func(a, b *watch) int { return strings.Compare(a.name, b.name) })
	gone = make(map[string]uint64, len(known))
	for name, w := range known {
		gone[name] = w.Seq
	}
	return gone
}
