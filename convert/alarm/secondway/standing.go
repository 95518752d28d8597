package secondway

import "time"

// Standing is how an alarm stands after the latest entry of its history.
type Standing struct {
	Shown, Under byte // letters A to I of the standard's diagram; Under is A to F, whatever hides it

	Active, Unacknowledged bool
	Occurrence             uint64
	Condition              Condition
	Pending                time.Duration // how long the condition has held against Active
	Stood                  time.Duration // in state C, where there is a re-alarm time: since the acknowledgement
	ShelvedLeft            time.Duration
	OneShot                bool
	Suppressed, Out        bool

	// Calls counts how often a person was called up to now, Done tells whether the latest entry could be done.
	Calls int
	Done  bool
}

// Stand works out how the alarm stands by its history, scanned between the entries or not.
func Stand(r Rules, h History, scanned bool) Standing {
	c := draw(r, h, scanned)
	return c.standing(len(c.cols) - 1)
}

// Next gives the time until something happens of itself, and whether it ever will. It draws the chart on with looks alone,
// one in every step of time, for as long as the longest time in the rules.
func Next(r Rules, h History, scanned bool) (time.Duration, bool) {
	if len(h) == 0 {
		return 0, false
	}
	was, now := Stand(r, h, scanned), h[len(h)-1].At
	on := h[:len(h):len(h)]
	for t := now; t <= now+max(r.OnDelay, r.ReAlarm, r.ShelveCap); t += Step {
		on = append(on, Entry{At: t, Kind: Look})
	}
	c := draw(r, on, scanned)
	for i := len(h.columns(scanned)); i < len(c.cols); i++ {
		if is := c.standing(i); is.Shown != was.Shown || is.Under != was.Under || is.Occurrence != was.Occurrence ||
			(is.ShelvedLeft > 0) != (was.ShelvedLeft > 0) {
			return c.cols[i].At - now, true
		}
	}
	return 0, false
}

func (c *chart) standing(i int) Standing {
	s := Standing{
		Active: c.active[i], Unacknowledged: c.unack[i],
		Occurrence: c.occurrence(i), Condition: max(c.cond[i], Unknown), Pending: c.pending(i),
		Suppressed: last(c.cols, Suppress, i), Out: last(c.cols, Service, i), Done: c.done[i],
	}
	s.ShelvedLeft, s.OneShot = shelf(c.cols, c.active, c.rules, i)
	if s.Active && !s.Unacknowledged && c.rules.ReAlarm > 0 {
		s.Stood = c.cols[i].At - c.cols[c.seen[i]].At
	}
	for _, called := range c.calls[:i+1] {
		if called {
			s.Calls++
		}
	}
	s.Under = under(s.Active, s.Unacknowledged, c.latch[i])
	s.Shown = s.Under
	switch { // the order where several hold at once is a choice
	case s.Out:
		s.Shown = 'I'
	case s.Suppressed:
		s.Shown = 'H'
	case s.ShelvedLeft > 0:
		s.Shown = 'G'
	}
	return s
}

// under is the table of states A to F (IEC 62682 and ISA-18.2, state transition diagram).
func under(active, unack, latched bool) byte {
	switch {
	case active && unack:
		return 'B'
	case active:
		return 'C'
	case latched && unack:
		return 'E'
	case latched:
		return 'F'
	case unack:
		return 'D'
	}
	return 'A'
}
