package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"manobridge/ingest/frame"
	"manobridge/ingest/modbus"
)

// Poll makes a Source of a line on which instruments speak only when asked, by Modbus RTU or in lines of text: its Open and its Decoder take
// the places of those in Options, and everything else of the Source stays as it is. One question is under way at a time;
// each instrument is asked at its own interval, the one longest due first; one that has not answered three times in a
// row is asked less often until it does. An instrument that does not answer is silent
// by the rule of the Source; one that answers badly gives a reading with its refusal.
//
// The standard wants 3.5 characters of silence between telegrams. Before each question the line has been silent that
// long since the last byte was read, as far as a program in user space can tell: adapter and system may have held bytes
// back, so the silence on the line is longer than that, never shorter. Silence inside an answer is not measured; where an
// answer ends follows from its length.
type Poll struct {
	o    PollOptions
	plan []*planned // in the order of addresses

	// Of the reading goroutine.
	late   *teller
	behind *planned   // the latest that was asked late
	news   []portNews // not yet told

	mu      sync.Mutex
	answers []frame.Frame // read and not yet decoded; without the moment and the bytes
}

// PollOptions say whom to ask, and how.
type PollOptions struct {
	Port string // name of the port in the configuration

	// Open opens a port that is an AskedPort.
	Open        Opener
	Instruments []Asked
	// Timeout is how long an instrument may take to begin its answer. It must be longer than the slowest answer: Modbus
	// RTU has nothing that ties an answer to its question. After a question that was given up, the first answer of that
	// unit, and what follows within the timeout, is thrown away, as it may be a late one.
	Timeout time.Duration
	// Turnaround is a pause before each question beyond the silence that the standard wants; 0 for none.
	Turnaround time.Duration
	// Echo says that each question comes back before its answer, as from an adapter that hears itself.
	Echo bool
	// Lines makes it questions and answers in lines of text; nil for Modbus RTU.
	Lines *LineTalk
	// Gap is the longest pause inside an answer of Lines. The port is to time out after that, and not after Timeout.
	Gap time.Duration
	// Character is how long one character takes on the line, start, parity and stop bits included.
	Character time.Duration

	Clock Clock
	Log   *slog.Logger
}

// Asked is one instrument and what it is asked for.
type Asked struct {
	Address string // as in Options.Instruments
	Unit    uint8  // one may hold several instruments
	Every   time.Duration
	// Registers by the name of the field that they hold, as in frame.FieldNames.
	Registers map[string]modbus.Register
}

// AskedPort is a port that can be written to. Its Read fails with an error whose Timeout method gives true when nothing
// came for PollOptions.Timeout.
type AskedPort interface {
	io.ReadWriteCloser
	ResetInputBuffer() error
}

// planned is an instrument with its questions.
type planned struct {
	Asked
	questions []question
	pace      pace // of the reading goroutine
}

// question is one telegram and where in its answer the fields stand.
type question struct {
	modbus.Question
	fields []string
}

// NewPoll makes a Poll. It returns every problem of the options at once and opens nothing.
func NewPoll(o PollOptions) (*Poll, error) {
	var problems []error
	need := func(ok bool, format string, args ...any) {
		if !ok {
			problems = append(problems, fmt.Errorf(format, args...))
		}
	}
	need(o.Open != nil && o.Log != nil && o.Clock.Now != nil && o.Clock.SinceStart != nil, "opener, log or clock: missing")
	need(o.Timeout > 0 && o.Character > 0, "timeout or character: not above 0")
	need(len(o.Instruments) > 0, "instruments: none at port %s", o.Port)
	p := &Poll{o: o}
	addresses := map[string]bool{}
	if o.Lines != nil {
		problems = append(problems, o.checkLines()...)
	}
	for _, in := range o.Instruments {
		need(!addresses[in.Address], "address %q stands twice", in.Address)
		addresses[in.Address] = true
		if o.Lines != nil {
			need(in.Every > 0, "address %q: every: %v is not above 0", in.Address, in.Every)
			p.plan = append(p.plan, &planned{Asked: in})
			continue
		}
		need(in.Every > 0, "unit %d: every: %v is not above 0", in.Unit, in.Every)
		need(len(in.Registers) > 0, "unit %d: registers: none", in.Unit)
		for name, r := range in.Registers {
			need(new(frame.Frame).Set(name, 0), "unit %d: registers: %q is no field", in.Unit, name)
			if err := r.Validate(); err != nil {
				problems = append(problems, fmt.Errorf("unit %d: registers: %s: %w", in.Unit, name, err))
			}
		}
		pl := &planned{Asked: in, questions: questionsFor(in)}
		for _, q := range pl.questions {
			if err := q.Validate(); err != nil {
				problems = append(problems, fmt.Errorf("unit %d: %w", in.Unit, err))
			}
		}
		p.plan = append(p.plan, pl)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	slices.SortFunc(p.plan, func(a, b *planned) int { return cmp.Or(cmp.Compare(a.Unit, b.Unit), cmp.Compare(a.Address, b.Address)) })
	p.late = newTeller(p.sayStillLate, p.sayInTime)
	return p, nil
}

// questionsFor joins registers that touch or overlap into one question, so that they are of one moment. Registers that
// nobody named are never asked for: an instrument may refuse the whole question for one that it does not have.
func questionsFor(in Asked) (list []question) {
	names := slices.SortedFunc(maps.Keys(in.Registers), func(a, b string) int {
		x, y := in.Registers[a], in.Registers[b]
		return cmp.Or(cmp.Compare(x.Function, y.Function), cmp.Compare(x.At, y.At), cmp.Compare(a, b))
	})
	for _, name := range names {
		r := in.Registers[name]
		end := int(r.At) + r.Words()
		if n := len(list); n > 0 && list[n-1].Function == r.Function && int(r.At) <= int(list[n-1].First)+list[n-1].Count {
			q := &list[n-1]
			q.Count = max(q.Count, end-int(q.First))
			q.fields = append(q.fields, name)
			continue
		}
		list = append(list, question{
			Question: modbus.Question{Unit: in.Unit, Function: r.Function, First: r.At, Count: r.Words()}, fields: []string{name},
		})
	}
	return list
}

// silence is the pause before a question: 3.5 characters, and 1.75 ms where that is longer, as above 19200 bit/s
// (Modbus over Serial Line V1.02, 2.5.1.1).
func (o PollOptions) silence() time.Duration { return max(o.Character*7/2, 1750*time.Microsecond) }

// Open is an Opener: what it opens is read as a line that speaks by itself, and asks within its Read.
func (p *Poll) Open(ctx context.Context) (io.ReadCloser, error) {
	opened, err := p.o.Open(ctx)
	if err != nil {
		return nil, err
	}
	port, ok := opened.(AskedPort)
	if !ok {
		return nil, errors.Join(errors.New("the port cannot be written to"), opened.Close())
	}
	a := &asking{p: p, port: port, done: make(chan struct{}), due: make([]time.Duration, len(p.plan)), missed: make([]int, len(p.plan))}
	for i := range a.due {
		a.due[i] = p.o.Clock.SinceStart() + p.o.Timeout // an answer may be on its way to a question of before
	}
	return a, nil
}

// Decoder gives the decoder of what the Poll reads. It is for the one Source that has the Poll's Open.
func (p *Poll) Decoder() frame.Decoder { return &pollDecoder{p: p} }

// keep notes an answer for the decoder, before its bytes are handed over.
func (p *Poll) keep(f frame.Frame) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.answers = append(p.answers, f)
}

// pollDecoder pairs the bytes of one round with what was made of them. Each Read of asking that gives bytes has noted one
// answer, and reads arrive in order, none left out.
type pollDecoder struct {
	p    *Poll
	in   []byte
	at   frame.Stamp
	read bool // in has not been given yet
}

// Feed implements frame.Decoder.
func (d *pollDecoder) Feed(p []byte, at frame.Stamp) { d.in, d.at, d.read = p, at, len(p) > 0 }

// Next implements frame.Decoder.
func (d *pollDecoder) Next(f *frame.Frame) bool {
	if !d.read {
		return false
	}
	d.read = false
	d.p.mu.Lock()
	defer d.p.mu.Unlock()
	if len(d.p.answers) == 0 {
		return false
	}
	*f = d.p.answers[0]
	d.p.answers = slices.Delete(d.p.answers, 0, 1)
	f.At, f.Raw = d.at, d.in
	return true
}

// Reset implements frame.Decoder. Nothing is ever unfinished here.
func (d *pollDecoder) Reset() int { return 0 }

// PassedOver implements frame.Decoder.
func (d *pollDecoder) PassedOver() uint64 { return 0 }
