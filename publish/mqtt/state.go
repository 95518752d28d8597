package mqtt

import (
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

// state is what is known of one instrument.
type state struct {
	publish.State
	seen  time.Time // when the last reading came
	dirty bool      // not published yet
}

// newState is called with s.mu held, or before anybody else has s.
func (s *Sink) newState(instrument string) *state {
	st := &state{State: publish.Starting(instrument, s.opt.Bridge, s.opt.Run, s.opt.Now(), s.opt.ValidFor), dirty: true}
	s.states[instrument] = st
	s.names = append(s.names, instrument)
	return st
}

// Observe takes the result into the state of its instrument. Call it for every result as it comes, whatever becomes
// of its delivery. It does not block. A sample changes nothing of the state, which follows the averages: it tells that the
// instrument is heard.
func (s *Sink) Observe(r *convert.Result) {
	s.mu.Lock()
	st := s.states[r.Instrument]
	if st == nil {
		if checkLevel("instrument", r.Instrument) != nil || r.Instrument == s.opt.Bridge {
			s.mu.Unlock()
			return // its rows are put aside and named in the log
		}
		st = s.newState(r.Instrument)
	}
	st.seen = s.opt.Now()
	if r.Sample {
		s.mu.Unlock()
		return
	}
	before := st.State
	st.State = publish.StateOf(before, r)
	st.dirty = st.dirty || !publish.SameWord(before, st.State)
	dirty := st.dirty
	s.mu.Unlock()
	if dirty {
		select {
		case s.changed <- struct{}{}:
		default:
		}
	}
}

// statePosts gives the states to publish: those that changed, or all. A state that vouches for a value is not repeated
// once no reading stands behind it any more, so that subscribers see it run out.
func (s *Sink) statePosts(all bool) []*post {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.opt.Now()
	var posts []*post
	for _, name := range s.names {
		st := s.states[name]
		if !st.dirty && !all || st.Status != convert.Bad && now.Sub(st.seen) > s.opt.ValidFor {
			continue
		}
		st.dirty = false
		posts = append(posts, newPost(s.topics.of(name, "state"), st.JSON(), true))
	}
	return posts
}

// farewell gives the last messages.
func (s *Sink) farewell() []*post {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.opt.Now()
	var posts []*post
	for _, name := range s.names {
		posts = append(posts, newPost(s.topics.of(name, "state"), s.states[name].Stopping(now).JSON(), true))
	}
	posts = append(posts, s.boardPosts(false)...)
	return append(posts, s.presence(publish.Leaving, now))
}

func (s *Sink) presence(p publish.Presence, since time.Time) *post {
	return newPost(s.topics.of(s.opt.Bridge, "presence"), p.JSON(s.opt.Bridge, s.opt.Run, since), true)
}
