package mqtt

import (
	"errors"
	"fmt"
	"slices"

	"manobridge/publish"
)

// SetInstruments replaces the instruments while the sink runs; check it with CheckInstruments before. New ones are as before
// their first reading; of those that are gone the state says so, and what is retained about them is taken away. Call it
// after the last Observe of those. It does not block.
func (s *Sink) SetInstruments(instruments []string, about []publish.About) {
	s.mu.Lock()
	was := s.opt.About
	s.opt.About, s.opt.Instruments = slices.Clone(about), slices.Clone(instruments)
	now := s.opt.Now()
	for name, st := range s.states {
		if !slices.Contains(instruments, name) && !isGone(st.State) {
			st.State, st.dirty = st.State.Removed(now), true
		}
	}
	for _, name := range instruments {
		st := s.states[name]
		switch {
		case st == nil:
			s.newState(name)
		case isGone(st.State):
			st.State = publish.Starting(name, s.opt.Bridge, s.opt.Run, now, s.opt.ValidFor)
			st.dirty = true
		}
	}
	for _, a := range was {
		s.withdrawn[a.Instrument] = true
	}
	for _, name := range instruments {
		delete(s.withdrawn, name)
	}
	s.aboutDirty = true
	s.mu.Unlock()
	s.nudge()
}

func isGone(s publish.State) bool {
	return len(s.Causes) == 1 && s.Causes[0] == publish.CauseRemoved
}

// CheckInstruments tells what is wrong with names and descriptions, before anything is changed.
func (s *Sink) CheckInstruments(instruments []string, about []publish.About) error {
	var errs []error
	for _, name := range instruments {
		errs = append(errs, checkLevel("instrument", name))
		if name == s.opt.Bridge {
			errs = append(errs, fmt.Errorf("%q names an instrument and the bridge; their topics would mix", name))
		}
	}
	for _, a := range about {
		errs = append(errs, checkMessage(s.topics.of(a.Instrument, "about"), a.JSON()))
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("mqtt: %w", err)
	}
	return nil
}

// aboutPosts gives the descriptions to publish, where they changed or all is asked for. An empty retained message takes away
// the one before (MQTT 3.1.1, 3.3.1.3).
func (s *Sink) aboutPosts(all bool) (posts []*post) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !all && !s.aboutDirty {
		return nil
	}
	s.aboutDirty = false
	for _, a := range s.opt.About {
		posts = append(posts, newPost(s.topics.of(a.Instrument, "about"), a.JSON(), true))
	}
	for name := range s.withdrawn {
		posts = append(posts, newPost(s.topics.of(name, "about"), nil, true))
	}
	return posts
}

// TakeOver goes on with the word on limits, acts and events that waits at a sink which this one replaces. Call it before Run,
// and after the Run of the other has returned. Under other topics it is for others, so it is left.
func (s *Sink) TakeOver(old *Sink) {
	if s.topics != old.topics {
		return
	}
	old.board.mu.Lock()
	defer old.board.mu.Unlock()
	s.board.mu.Lock()
	defer s.board.mu.Unlock()
	for _, name := range old.board.names {
		if _, newer := s.board.states[name]; !newer {
			s.board.names = append(s.board.names, name)
			s.board.states[name], s.board.dirty[name] = old.board.states[name], true
		}
	}
	s.board.queue = append(old.board.queue, s.board.queue...)
	s.board.lost += old.board.lost
	old.board.queue = nil
}
