package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
	"manobridge/ingest/modbus"
)

// asking is a port while open. Read is one goroutine's; Close may be another's.
type asking struct {
	p    *Poll
	port AskedPort
	due  []time.Duration // of each instrument of the plan
	// missed counts the rounds in a row that each did not answer.
	missed []int
	// doubtful are the units of which an answer may be on its way to a question that was given up.
	doubtful [256]bool

	lastByte time.Duration // when the line was last heard, or written to
	once     sync.Once
	done     chan struct{}
}

// errClosedPort ends a Read of a port that was closed.
var errClosedPort = io.ErrClosedPipe

// noAnswer is how a round ends in which nothing came.
type noAnswer struct{ address string }

// Error says whose.
func (n noAnswer) Error() string { return fmt.Sprintf("address %q: no answer in time", n.address) }

// Timeout tells that the port is well.
func (noAnswer) Timeout() bool { return true }

// Read asks the instrument that is longest due, waiting until one is, and gives the bytes of its whole answer.
func (a *asking) Read(b []byte) (int, error) {
	i := 0
	for k := range a.due {
		if a.due[k] < a.due[i] {
			i = k
		}
	}
	if !a.wait(a.due[i] - a.p.o.Clock.SinceStart()) {
		return 0, errClosedPort
	}
	in := a.p.plan[i]
	a.schedule(i)
	round := a.round
	if a.p.o.Lines != nil {
		round = a.roundLine
	}
	raw, f, err := round(in, b[:0])
	switch {
	case isTimeout(err):
		a.miss(i)
		return 0, noAnswer{in.Address}
	case err != nil:
		return 0, err
	case f.cut:
		a.miss(i)
	case a.p.o.Lines != nil:
		a.missed[i] = 0 // the line was silent before it was asked
	case a.doubtful[in.Unit]:
		// What came may be the answer to a question that was given up, with the right one behind it. Both are thrown away;
		// the next round starts even.
		a.missed[i], a.doubtful[in.Unit] = 0, false
		if err := a.settle(); err != nil {
			return 0, err
		}
		return 0, noAnswer{in.Address}
	}
	if !f.cut {
		a.missed[i] = 0
	}
	f.Address, f.Addressed = []byte(in.Address), true
	a.p.keep(f.Frame)
	return copy(b, raw), nil
}

// givenUp is after how many rounds without an answer an instrument is asked less often.
const givenUp = 3

// miss notes a round without a whole answer. An answer still on its way gets as long again to arrive, before another
// question to this unit throws it away; and a unit that is switched off takes no more than a tenth of the line from the
// others.
func (a *asking) miss(i int) {
	a.missed[i]++
	rest := a.p.o.Timeout
	for k, in := range a.p.plan {
		if a.p.o.Lines == nil && in.Unit == a.p.plan[i].Unit {
			a.doubtful[in.Unit] = true
			a.due[k] = max(a.due[k], a.p.o.Clock.SinceStart()+rest)
		}
	}
	if a.missed[i] >= givenUp {
		rest *= 9
	}
	a.due[i] = max(a.due[i], a.p.o.Clock.SinceStart()+rest)
}

// outcome is what a round came to: a frame without the moment and the bytes.
type outcome struct {
	frame.Frame
	cut bool // the rest of an answer may still be on its way
}

// round asks one instrument everything it is to be asked. It fails where nothing came at all, or the port fails.
func (a *asking) round(in *planned, raw []byte) ([]byte, outcome, error) {
	var f frame.Frame
	for _, q := range in.questions {
		start := len(raw)
		var err error
		raw, err = a.ask(q.Question, raw)
		var fault *modbus.Error
		switch {
		case isTimeout(err) && len(raw) == 0:
			return nil, outcome{}, noAnswer{}
		case isTimeout(err):
			return raw, outcome{frame.Frame{Refusal: refuseCutShort(q.Question, len(raw)-start)}, true}, nil
		case errors.As(err, &fault):
			return raw, outcome{Frame: frame.Frame{Refusal: refuseAnswer(fault)}}, a.settle()
		case err != nil:
			return nil, outcome{}, err
		}
		data, err := q.Registers(raw[start:])
		if errors.As(err, &fault) {
			return raw, outcome{Frame: frame.Frame{Refusal: refuseAnswer(fault)}}, a.settle()
		}
		for _, name := range q.fields {
			r := in.Registers[name]
			at := 2 * int(r.At-q.First)
			v, err := r.Value(data[at : at+2*r.Words()])
			if err != nil && f.SetLost(name) {
				continue
			}
			if err != nil {
				f.Refusal = refuseNoValue(name, r, err)
				continue // the other questions are still asked, so that the raw frame is whole
			}
			f.Set(name, v)
		}
	}
	if f.Refusal != nil {
		f = frame.Frame{Refusal: f.Refusal}
	}
	return raw, outcome{Frame: f}, nil
}

// ask sends one question after the silence that the standard wants, and reads its answer behind what is in raw.
func (a *asking) ask(q modbus.Question, raw []byte) ([]byte, error) {
	clock := a.p.o.Clock.SinceStart
	telegram := q.Append(nil)
	sent, err := a.send(telegram)
	if err != nil {
		return raw, err
	}
	if a.p.o.Echo {
		if heard, err := a.hearEcho(telegram); err != nil {
			return append(raw, heard...), err
		}
	}
	// Nothing that dribbles holds the line up for ever.
	latest := sent + 2*a.p.o.Timeout + 256*a.p.o.Character
	start, want := len(raw), 3
	for {
		n, err := a.port.Read(raw[len(raw):min(start+want, cap(raw))])
		raw = raw[:len(raw)+n]
		if n > 0 {
			a.lastByte = max(a.lastByte, clock())
		}
		if err != nil {
			return raw, err
		}
		length, err := q.Length(raw[start:])
		if err != nil {
			return raw, err
		}
		if length > 0 {
			want = length
		}
		if len(raw)-start >= want && length > 0 {
			return raw, nil
		}
		if clock() > latest {
			return raw, noAnswer{}
		}
	}
}

// hearEcho takes the question off the line where it comes back, and gives what came in its place where it does not: a
// round of which something was heard must hand over bytes, as the decoder pairs them with what was made of them.
func (a *asking) hearEcho(telegram []byte) ([]byte, error) {
	back, n := make([]byte, len(telegram)), 0
	for n < len(back) {
		k, err := a.port.Read(back[n:])
		if k > 0 {
			a.lastByte = max(a.lastByte, a.p.o.Clock.SinceStart())
		}
		if n += k; isTimeout(err) && n > 0 {
			break // something shorter
		} else if err != nil {
			return nil, err
		}
	}
	if !bytes.Equal(back[:n], telegram) {
		return back[:n], &modbus.Error{Fault: modbus.Foreign, Seen: fmt.Sprintf("is %x where the echo of the question was to come", back[:n]), Allowed: fmt.Sprintf("%x", telegram)}
	}
	return nil, nil
}

// settle listens until the line is silent for the timeout, so that the rest of a bad answer is not taken for the next. A
// line that never falls silent is left after as many bytes as the longest answer has.
func (a *asking) settle() error {
	var rest [256]byte
	for n := 0; n < len(rest); {
		k, err := a.port.Read(rest[n:])
		if isTimeout(err) {
			return nil
		}
		if err != nil {
			return err
		}
		n += k
		a.lastByte = a.p.o.Clock.SinceStart()
	}
	return nil
}

// wait waits; false if the port is closed.
func (a *asking) wait(d time.Duration) bool {
	if d <= 0 {
		select {
		case <-a.done:
			return false
		default:
			return true
		}
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-a.done:
		return false
	case <-t.C:
		return true
	}
}

// Close ends a Read that waits.
func (a *asking) Close() error {
	a.once.Do(func() { close(a.done) })
	return a.port.Close()
}

// refuseAnswer words what does not fit.
func refuseAnswer(e *modbus.Error) *convert.Refusal {
	r := &convert.Refusal{Code: convert.FrameFormat, Field: "answer", Seen: e.Seen, Allowed: e.Allowed,
		Check: "registers and timeout in the configuration, two units with one address, and an adapter that echoes"}
	switch e.Fault {
	case modbus.Damaged:
		r.Code, r.Check = convert.FrameChecksum, "cable, termination, baud rate and parity, and two units with one address"
	case modbus.Exception:
		r.Code, r.Check = convert.FrameErrorWord, "registers in the configuration against the manual of the digitizer, and the digitizer"
	}
	return r
}

func refuseCutShort(q modbus.Question, n int) *convert.Refusal {
	return &convert.Refusal{Code: convert.FrameFormat, Field: "answer", Seen: fmt.Sprintf("ended after %d bytes", n),
		Allowed: fmt.Sprintf("%d bytes for %d registers", 5+2*q.Count, q.Count), Check: "cable and timeout"}
}

func refuseNoValue(field string, r modbus.Register, err error) *convert.Refusal {
	return &convert.Refusal{Code: convert.FrameErrorWord, Field: frame.BenchName(field),
		Seen: fmt.Sprintf("is %v, in register %d", err, r.At), Allowed: "a number",
		Check: "the digitizer, and type and order of the register in the configuration"}
}
