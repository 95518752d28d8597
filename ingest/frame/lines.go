package frame

import (
	"bytes"
	"time"
)

// lines finds frames that end with a line end. Empty lines between them are passed over.
type lines struct {
	parser      lineParser
	end         terminator
	limit       int // of what is kept of an unfinished line: with crlf the CR is only known as line end afterwards
	maxGap      time.Duration
	headerLines int

	in   []byte // fed and not yet looked at
	inAt Stamp

	partial   []byte // start of an unfinished line, capacity limit
	partialAt Stamp
	lastByte  time.Duration // monotonic moment of the read before
	paused    time.Duration // longest pause inside the unfinished line, where beyond maxGap
	pausedAt  int           // how much of the line came before that pause

	state      lineState
	prev       byte // the byte before l.in
	headers    int  // how many more lines may be headers
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
	// parse fills in f, whose At and Raw are set, from f.Raw. It ignores a whole line that is in order and of no concern
	// here.
	parse(f *Frame) (ignored bool)
	// attribute fills in Address and Addressed, as far as raw, which may end anywhere, allows.
	attribute(f *Frame, raw []byte)
}

func newLines(p lineParser, o Options, end terminator) *lines {
	limit := MaxLength
	if end == crlf {
		limit++
	}
	return &lines{parser: p, end: end, limit: limit, maxGap: o.MaxGap,
		headerLines: o.HeaderLines, headers: o.HeaderLines, partial: make([]byte, 0, limit)}
}

// terminator is what ends a line.
type terminator uint8

const (
	anyEnd terminator = iota // CR or LF; the LF of a CR LF is then an empty line
	lf
	cr
	crlf
)

var terminators = map[string]terminator{"": anyEnd, "any": anyEnd, "lf": lf, "cr": cr, "crlf": crlf}

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
		end := l.lineEnd()
		switch l.state {
		case joining:
			if l.join(end, f) {
				return true
			}
		case skipping:
			if end < 0 {
				l.take(len(l.in))
				return false
			}
			l.take(end + 1)
			l.state = inLine
		case inLine:
			if l.line(end, f) && !l.header(f) {
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
	room := l.limit - len(l.partial)
	if len(l.partial) == 0 {
		l.partialAt = l.inAt
	}
	l.partial = append(l.partial, l.take(n)[:min(n, room)]...)
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
		l.take(1)
		return false
	case end >= 0 && len(l.partial) == 0 && end <= l.limit: // whole line in one read
		return l.finish(f, l.take(end + 1)[:end], l.inAt)
	}
	if len(l.partial) == 0 {
		l.partialAt = l.inAt
	}
	n := end
	if end < 0 {
		n = len(l.in)
	}
	room := l.limit - len(l.partial)
	l.partial = append(l.partial, l.take(min(n, room))...)
	if n > room {
		l.refuseOverlong(f)
		return true
	}
	if end < 0 {
		return false
	}
	l.take(1) // the line end
	raw := l.partial
	l.partial = l.partial[:0] // raw stays untouched until the next call
	return l.finish(f, raw, l.partialAt)
}

// finish fills in f from a whole line; false for one that is empty or ignored.
func (l *lines) finish(f *Frame, raw []byte, at Stamp) (found bool) {
	paused := l.paused
	l.paused = 0
	if l.end == crlf {
		raw = raw[:len(raw)-1]
		if len(raw) == 0 {
			return false
		}
	}
	*f = Frame{At: at, Raw: raw}
	switch {
	case paused > 0:
		l.parser.attribute(f, raw[:l.pausedAt])
		f.Refusal = refusePaused(paused, l.maxGap)
	case bytes.IndexByte(raw, 0) >= 0:
		l.parser.attribute(f, raw)
		f.Refusal = refuseNUL(raw)
	default:
		if l.parser.parse(f) {
			l.passedOver += uint64(len(raw))
			return false
		}
	}
	return true
}

// header tells whether the line is passed over as one of the headers after an opening. The first good frame ends them.
func (l *lines) header(f *Frame) bool {
	if l.headers == 0 || f.Refusal == nil {
		l.headers = 0
		return false
	}
	l.headers--
	l.passedOver += uint64(len(f.Raw))
	return true
}

// refuseOverlong says once that there is no line end, and has the rest of the line skipped.
func (l *lines) refuseOverlong(f *Frame) {
	raw := l.partial[:MaxLength]
	*f = Frame{At: l.partialAt, Raw: raw, Refusal: refuseOverlong(raw, MaxLength)}
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
	l.in, l.partial, l.prev = nil, l.partial[:0], 0
	l.paused = 0
	l.state = joining
	l.headers = l.headerLines
	return lost
}

// PassedOver implements Decoder.
func (l *lines) PassedOver() uint64 { return l.passedOver }

// lineEnd finds where the first line in l.in ends: at the last byte of its line end; -1 if it does not.
func (l *lines) lineEnd() int {
	switch l.end {
	case lf:
		return bytes.IndexByte(l.in, '\n')
	case cr:
		return bytes.IndexByte(l.in, '\r')
	case crlf:
		for from := 0; ; {
			i := bytes.IndexByte(l.in[from:], '\n')
			if i < 0 {
				return -1
			}
			i += from
			if l.before(i) == '\r' {
				return i
			}
			from = i + 1
		}
	}
	// One loop, because looking for a CR that never comes would cost a walk through the whole buffer for each line.
	for i, c := range l.in {
		if c == '\n' || c == '\r' {
			return i
		}
	}
	return -1
}

// before gives the byte before l.in[i], which may have come with an earlier read.
func (l *lines) before(i int) byte {
	if i > 0 {
		return l.in[i-1]
	}
	return l.prev
}

// take removes the first n bytes of l.in and gives them.
func (l *lines) take(n int) []byte {
	b := l.in[:n]
	if n > 0 {
		l.prev = b[n-1]
	}
	l.in = l.in[n:]
	return b
}
