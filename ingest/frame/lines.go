package frame

import (
	"bytes"
	"time"
)

// lines finds frames that end with a line end: CR, LF, or both. Empty lines between them are passed over.
type lines struct {
	parser    lineParser
	maxLength int
	maxGap    time.Duration

	in   []byte // fed and not yet looked at
	inAt Stamp

	partial   []byte // start of an unfinished line, capacity maxLength
	partialAt Stamp
	lastByte  time.Duration // monotonic moment of the read before
	paused    time.Duration // longest pause inside the unfinished line, where beyond maxGap
	pausedAt  int           // how much of the line came before that pause

	state      lineState
	passedOver uint64
}

// lineState says what the next bytes are.
type lineState uint8

const (
	joining  lineState = iota // the end of a line whose beginning was not seen
	inLine                    // a line, or the start of one
	skipping                  // the rest of a line already refused
)

// lineParser reads one line.
type lineParser interface {
	// parse fills in f, whose At and Raw are set, from f.Raw.
	parse(f *Frame)
	// attribute fills in Address and Addressed, as far as raw, which may end anywhere, allows.
	attribute(f *Frame, raw []byte)
}

func newLines(p lineParser, maxLength int, maxGap time.Duration) *lines {
	return &lines{parser: p, maxLength: maxLength, maxGap: maxGap, partial: make([]byte, 0, maxLength)}
}

// Feed implements Decoder.
func (l *lines) Feed(p []byte, at Stamp) {
	if len(p) == 0 {
		return
	}
	if gap := at.Mono - l.lastByte; l.state == inLine && len(l.partial) > 0 && gap > l.maxGap && l.paused == 0 {
		l.paused, l.pausedAt = gap, len(l.partial)
	}
	l.in, l.inAt, l.lastByte = p, at, at.Mono
}

// Next implements Decoder.
func (l *lines) Next(f *Frame) bool {
	for len(l.in) > 0 {
		end := lineEnd(l.in)
		switch l.state {
		case joining:
			if l.join(end, f) {
				return true
			}
		case skipping:
			if end < 0 {
				l.in = nil
				return false
			}
			l.in = l.in[end+1:]
			l.state = inLine
		case inLine:
			if found := l.line(end, f); found {
				return true
			}
		}
	}
	l.in = nil
	return false
}

// join passes over what comes before the first line end. Without one within the bound there is something to say.
func (l *lines) join(end int, f *Frame) (refused bool) {
	n := end + 1
	if end < 0 {
		n = len(l.in)
	}
	l.passedOver += uint64(n)
	room := l.maxLength - len(l.partial)
	if len(l.partial) == 0 {
		l.partialAt = l.inAt
	}
	l.partial = append(l.partial, l.in[:min(n, room)]...)
	l.in = l.in[n:]
	switch {
	case end >= 0:
		l.partial = l.partial[:0]
		l.state = inLine
	case n > room:
		l.refuseOverlong(f)
		return true
	}
	return false
}

// line takes the next line or part of a line from l.in.
func (l *lines) line(end int, f *Frame) (found bool) {
	switch {
	case end == 0 && len(l.partial) == 0: // empty line, or the LF of a CR LF
		l.in = l.in[1:]
		return false
	case end >= 0 && len(l.partial) == 0 && end <= l.maxLength: // whole line in one read
		l.finish(f, l.in[:end], l.inAt)
		l.in = l.in[end+1:]
		return true
	}
	if len(l.partial) == 0 {
		l.partialAt = l.inAt
	}
	n := end
	if end < 0 {
		n = len(l.in)
	}
	room := l.maxLength - len(l.partial)
	l.partial = append(l.partial, l.in[:min(n, room)]...)
	if n > room {
		l.in = l.in[room:]
		l.refuseOverlong(f)
		return true
	}
	if end < 0 {
		l.in = nil
		return false
	}
	l.in = l.in[end+1:]
	raw := l.partial
	l.partial = l.partial[:0] // raw stays untouched until the next call
	l.finish(f, raw, l.partialAt)
	return true
}

// finish fills in f from a whole line.
func (l *lines) finish(f *Frame, raw []byte, at Stamp) {
	*f = Frame{At: at, Raw: raw}
	paused := l.paused
	l.paused = 0
	switch {
	case paused > 0:
		l.parser.attribute(f, raw[:l.pausedAt])
		f.Refusal = refusePaused(paused, l.maxGap)
	case bytes.IndexByte(raw, 0) >= 0:
		l.parser.attribute(f, raw)
		f.Refusal = refuseNUL(raw)
	default:
		l.parser.parse(f)
	}
}

// refuseOverlong says once that there is no line end, and has the rest of the line skipped.
func (l *lines) refuseOverlong(f *Frame) {
	*f = Frame{At: l.partialAt, Raw: l.partial, Refusal: refuseOverlong(l.partial, l.maxLength)}
	l.parser.attribute(f, nil) // several frames run together: the address of the first tells nothing
	l.partial = l.partial[:0]
	l.paused = 0
	l.state = skipping
}

// Reset implements Decoder.
func (l *lines) Reset() (lost int) {
	lost = len(l.partial)
	if l.state == joining {
		lost = 0 // already counted
	}
	l.passedOver += uint64(lost)
	l.in, l.partial = nil, l.partial[:0]
	l.paused = 0
	l.state = joining
	return lost
}

// PassedOver implements Decoder.
func (l *lines) PassedOver() uint64 { return l.passedOver }

// lineEnd finds the first CR or LF, or -1. One loop, because looking for a CR that never comes would cost a walk
// through the whole buffer for each line.
func lineEnd(b []byte) int {
	for i, c := range b {
		if c == '\n' || c == '\r' {
			return i
		}
	}
	return -1
}
