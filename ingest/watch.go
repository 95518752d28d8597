package ingest

import (
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// watch is what the Source knows of one instrument.
type watch struct {
	name, address string
	InstrumentStats

	since   time.Duration // of the latest good frame, or the start
	refused uint64        // frames refused since then
}

// deadline is when the instrument counts as bad if nothing changes, and for which cause; false if nothing is due.
func (s *Source) deadline(w *watch, now time.Duration) (at time.Duration, cause convert.Cause, due bool) {
	switch {
	case w.Cause == "" && s.up:
		// While reading stood still because readings were not taken, nothing could be heard.
		return max(w.since, s.link.deafUntil(now)) + s.o.Silence, convert.Silence, true
	case w.Cause == "":
		return w.since + s.o.Silence, convert.PortGone, true
	case w.Cause == convert.Silence && !s.up:
		return s.downAt, convert.PortGone, true // it is bad already, and now the reason is another
	case w.Cause == convert.PortGone && s.up:
		return max(s.upAt, s.link.deafUntil(now)) + s.o.Silence, convert.Silence, true
	}
	return 0, "", false
}

// look tells of every instrument that has been silent for too long, and has the teller say what is due.
func (s *Source) look(moment frame.Stamp) {
	now := moment.Mono
	for _, w := range s.watches {
		if at, cause, due := s.deadline(w, now); due && at <= now {
			s.bad(w, cause, moment)
		}
	}
	s.teller.look(now)
	if s.line.port != nil && s.line.at <= now {
		s.lookAtLine(now)
	}
}

// nextLook is how long until look has something to do.
func (s *Source) nextLook(now time.Duration) time.Duration {
	const rarely = time.Hour
	next := now + rarely
	for _, w := range s.watches {
		if at, _, due := s.deadline(w, now); due {
			next = min(next, at)
		}
	}
	if at, due := s.teller.next(); due {
		next = min(next, at)
	}
	if s.line.port != nil {
		next = min(next, s.line.at)
	}
	return max(next-now, time.Millisecond)
}

// bad sends the one reading that says that an instrument is silent or its port gone.
func (s *Source) bad(w *watch, cause convert.Cause, at frame.Stamp) {
	refusal := refuseSilence(at.Mono-w.since, s.o.Silence, w.refused)
	if cause == convert.PortGone {
		refusal = refusePort(s.whyDown)
	}
	s.count(func(c *Stats) { w.Cause = cause; c.Refused[cause]++ })
	r := convert.Reading{
		Name:       convert.Name{Run: s.o.Run, Instrument: w.name, Seq: s.next(w)},
		ReceivedAt: at.Wall, SinceStart: at.Mono, Refusal: refusal,
	}
	s.o.Log.Warn(sentence("no reading", refusal, "the instrument is bad until it is heard again"),
		"code", cause, "instrument", w.name, "seq", r.Seq, "port", s.o.Port, "silent_s", seconds(at.Mono-w.since))
	s.send(Item{Reading: r})
}

// good notes a good frame, and says so after a silence.
func (s *Source) good(w *watch, at time.Duration) {
	silent, cause := at-w.since, w.Cause
	w.since, w.refused = at, 0
	s.count(func(c *Stats) {
		c.Frames++
		c.Good++
		w.Good++
		w.LastGood, w.Cause = at, ""
	})
	s.teller.good(w.name, at)
	if cause != "" {
		s.dirty = true
		s.o.Log.Info("instrument is heard again", "code", cause, "instrument", w.name, "seq", w.Seq, "port", s.o.Port, "silent_s", seconds(silent))
	}
}

// portOpened notes that the port is there.
func (s *Source) portOpened(m *message) {
	s.count(func(c *Stats) { c.Open = true; c.Opens++ })
	s.o.Decoder.Reset()
	outage := m.at.Mono - s.downAt
	if s.wasUp || s.tries > 0 {
		s.o.Log.Info("port is open again", "port", s.o.Port, "outage_s", seconds(outage), "attempts", s.tries+1)
	} else {
		s.o.Log.Info("port is open", "port", s.o.Port)
		outage = 0
	}
	s.up, s.wasUp, s.upAt, s.whyDown, s.tries = true, true, m.at.Mono, "", 0
	s.lookAtLine(m.at.Mono)
	s.dirty = true
	s.event(m.at, PortEvent{Kind: PortOpened, Lasted: outage})
}

// portUnopened notes a failed attempt. It is said when the reason is new. At the start the instruments are bad at
// once: there is nothing to go on with.
func (s *Source) portUnopened(m *message) {
	s.count(func(c *Stats) { c.OpenFailures++ })
	s.tries++
	s.dirty = true
	why := m.err.Error()
	if why == s.whyDown {
		return
	}
	s.whyDown = why
	refusal := refusePort(why)
	s.o.Log.Warn(sentence("port", refusal, "it is tried again until it opens"), "code", refusal.Code, "port", s.o.Port)
	s.event(m.at, PortEvent{Kind: PortUnopened, Refusal: refusal, Count: s.tries})
	if !s.wasUp {
		for _, w := range s.watches {
			if w.Cause != convert.PortGone {
				s.bad(w, convert.PortGone, m.at)
			}
		}
	}
}

// portLost notes that an open port failed.
func (s *Source) portLost(m *message) {
	cut := s.o.Decoder.Reset()
	s.count(func(c *Stats) { c.Open = false; c.Losses++; c.PassedOver = s.o.Decoder.PassedOver() })
	s.up, s.downAt, s.whyDown, s.line.port = false, m.at.Mono, m.err.Error(), nil
	s.dirty = true
	refusal := refusePort(s.whyDown)
	s.o.Log.Warn(sentence("port", refusal, "it is opened again as soon as it is back"), "code", refusal.Code, "port", s.o.Port, "cut_off_bytes", cut)
	s.event(m.at, PortEvent{Kind: PortLost, Refusal: refusal, Bytes: cut})
}

// portStalled says that reading had to stop because what was read was not taken.
func (s *Source) portStalled(at frame.Stamp, d time.Duration) {
	s.o.Log.Warn("reading had to wait because readings were not taken fast enough; the line may have overrun; check disk and processor load",
		"port", s.o.Port, "waited_s", seconds(d))
	s.event(at, PortEvent{Kind: PortStalled, Lasted: d})
}
