// Package recording writes and reads what was received on a serial line: one line of text a read, with the time of the
// read (RFC 3339, UTC) and its bytes as a quoted text of ASCII, as in
//
//	2025-03-30T00:30:10.25Z "02,110.5,21.0\r\n"
//
// Nothing is lost or mended: every byte comes back as it was read, in the same pieces. The package refuses a line that
// it cannot read whole, and says which; it interprets no byte of what was received.
package recording

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"
)

// longest bounds a line of a recording, its line end left out: 64 KiB hold a read of 16 000 bytes, each escaped.
const longest = 64 << 10

// Read is what one read of the port gave.
type Read struct {
	// At is the wall clock at the read, UTC.
	At time.Time
	// Since is how long after the first read this one came: what went by between the times recorded, counting a time
	// before that of the read above as no time at all, since a clock that is set back hides how long it was.
	Since time.Duration
	Bytes []byte // at least one
}

// Write writes one read as a line.
func Write(to io.Writer, at time.Time, b []byte) error {
	_, err := fmt.Fprintf(to, "%s %s\n", at.UTC().Format(time.RFC3339Nano), strconv.QuoteToASCII(string(b)))
	return err
}

// LineError says which line of a recording cannot be read, and why.
type LineError struct {
	Line int // counted from 1
	Err  error
}

// Error gives line and reason.
func (e *LineError) Error() string { return fmt.Sprintf("line %d %v", e.Line, e.Err) }

// Unwrap gives the reason.
func (e *LineError) Unwrap() error { return e.Err }

// Reads gives the reads of a recording in order, until the first error, which is a *LineError or that of reading from.
func Reads(from io.Reader) iter.Seq2[Read, error] {
	return func(yield func(Read, error) bool) {
		in := bufio.NewReaderSize(from, longest)
		var before Read
		for n := 1; ; n++ {
			line, err := in.ReadSlice('\n')
			switch {
			case errors.Is(err, io.EOF) && len(line) == 0:
				return
			case errors.Is(err, io.EOF):
				yield(Read{}, &LineError{n, errors.New("has no line end: the recording was cut off there; remove that line to use the rest")})
				return
			case errors.Is(err, bufio.ErrBufferFull):
				yield(Read{}, &LineError{n, fmt.Errorf("is longer than %d bytes; this is no recording", longest)})
				return
			case err != nil:
				yield(Read{}, err)
				return
			}
			r, err := parse(strings.TrimSuffix(string(line[:len(line)-1]), "\r"))
			if err != nil {
				yield(Read{}, &LineError{n, err})
				return
			}
			if n > 1 {
				r.Since = before.Since + max(r.At.Sub(before.At), 0)
			}
			before = r
			if !yield(r, nil) {
				return
			}
		}
	}
}

// parse reads one line.
func parse(line string) (Read, error) {
	when, quoted, found := strings.Cut(line, " ")
	if !found {
		return Read{}, fmt.Errorf("is %s; a time, a blank and a quoted text are needed", start(line))
	}
	at, err := time.Parse(time.RFC3339Nano, when)
	if err != nil {
		return Read{}, fmt.Errorf("begins with %s, which is no time such as 2025-03-30T00:30:10.25Z", start(when))
	}
	if len(quoted) < 2 || quoted[0] != '"' {
		return Read{}, fmt.Errorf("has %s behind the time, which is no text in double quotes", start(quoted))
	}
	text, err := strconv.Unquote(quoted)
	if err != nil {
		return Read{}, fmt.Errorf("has %s behind the time, which is no text in double quotes with backslashes as in Go", start(quoted))
	}
	if text == "" {
		return Read{}, errors.New("holds no bytes; a read gives at least one")
	}
	return Read{At: at.UTC(), Bytes: []byte(text)}, nil
}

// start quotes the start of a foreign text.
func start(s string) string {
	const most = 40
	if len(s) > most {
		return strconv.QuoteToASCII(s[:most]) + "…"
	}
	return strconv.QuoteToASCII(s)
}

// Summary says what a recording holds.
type Summary struct {
	Reads, Bytes int
	First, Last  time.Time     // wall clock, UTC
	Lasts        time.Duration // Since of the last read
	// SetBack counts reads with a time before that of the read above: the clock was set back while they were recorded.
	SetBack int
}

// Check reads a whole recording and says what it holds, or what the first line is that cannot be read. One without a read
// is an error.
func Check(from io.Reader) (s Summary, err error) {
	for r, err := range Reads(from) {
		if err != nil {
			return Summary{}, err
		}
		if s.Reads == 0 {
			s.First = r.At
		} else if r.At.Before(s.Last) {
			s.SetBack++
		}
		s.Reads++
		s.Bytes += len(r.Bytes)
		s.Last, s.Lasts = r.At, r.Since
	}
	if s.Reads == 0 {
		return s, errors.New("holds nothing")
	}
	return s, nil
}
