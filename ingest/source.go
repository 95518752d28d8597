package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// Opener opens a port. Close must end a Read that waits. Read must not return 0 bytes and no error, except rarely; an
// error with a method Timeout() true means that nothing came and the port is well.
type Opener func(ctx context.Context) (io.ReadCloser, error)

// Options describe one port and the instruments on it.
type Options struct {
	Run  string // id of this run of the bridge
	Port string // name of the port in the configuration

	Open    Opener
	Decoder frame.Decoder // of this port alone
	// Instruments names the instrument at each address. Where the format has no address, the empty one.
	Instruments map[string]string
	// Silence is how long an instrument may send no good frame before it counts as silent. More than zero.
	Silence time.Duration

	// RetryMin and RetryMax bound the pause between attempts to open; zero means 250 ms and 5 s.
	RetryMin, RetryMax time.Duration
	// Queue bounds how many reads may wait to be decoded while the consumer is slow; zero means 512, which is 256 kB.
	Queue int

	Clock  Clock
	Log    *slog.Logger
	Jitter func() float64 // 0 to 1; nil means random
}

// Source reads one port. Make it with New and run it once.
type Source struct {
	o       Options
	link    *link
	watches []*watch // in the order of names
	at      map[string]*watch
	teller  *teller
	changes chan func() // to be made by the loop

	// Of the loop alone.
	out      chan<- Item
	up       bool
	wasUp    bool          // ever
	upAt     time.Duration // of the latest opening
	downAt   time.Duration // of the latest loss, or the start
	whyDown  string        // what was said last about a port that is not there
	tries    uint64        // attempts in this outage
	eventSeq uint64
	dirty    bool          // the timer has to be set again
	readAt   time.Duration // of the latest read
	line     lineErrors

	mu    sync.Mutex // stats, and InstrumentStats of watches
	stats Stats
}

// New makes a Source. It returns every problem of the options at once and opens nothing.
func New(o Options) (*Source, error) {
	var problems []error
	need := func(ok bool, format string, args ...any) {
		if !ok {
			problems = append(problems, fmt.Errorf(format, args...))
		}
	}
	need(o.Run != "", "run: missing")
	need(o.Port != "", "port: missing")
	need(o.Open != nil && o.Decoder != nil && o.Log != nil && o.Clock.Now != nil && o.Clock.SinceStart != nil, "opener, decoder, log or clock: missing")
	need(len(o.Instruments) > 0, "instruments: none at port %s", o.Port)
	need(o.Silence > 0, "silence: %v is not above 0", o.Silence)
	need(o.RetryMin >= 0 && o.RetryMax >= 0 && o.Queue >= 0, "retry or queue: negative")
	if o.RetryMin == 0 {
		o.RetryMin = 250 * time.Millisecond
	}
	if o.RetryMax == 0 {
		o.RetryMax = 5 * time.Second
	}
	need(o.RetryMin <= o.RetryMax, "retry: %v is above %v", o.RetryMin, o.RetryMax)
	if o.Queue == 0 {
		o.Queue = 512
	}
	if o.Jitter == nil {
		o.Jitter = rand.Float64
	}
	s := &Source{o: o, at: make(map[string]*watch, len(o.Instruments)), changes: make(chan func())}
	names := make(map[string]bool)
	for address, name := range o.Instruments {
		need(name != "" && !names[name], "instruments: %q at address %q is empty or stands twice", name, address)
		names[name] = true
		w := &watch{name: name, address: address}
		s.at[address] = w
		s.watches = append(s.watches, w)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	slices.SortFunc(s.watches, func(a, b *watch) int { return strings.Compare(a.name, b.name) })
	s.stats = Stats{Port: o.Port, Refused: make(map[convert.Cause]uint64), Unattributed: make(map[convert.Cause]uint64)}
	s.teller = newTeller(s.sayMore, s.sayRecovered)
	s.link = &link{
		open: o.Open, clock: o.Clock,
		in: make(chan *message, o.Queue), free: make(chan *message, o.Queue),
		retry:   backoff{low: o.RetryMin, high: o.RetryMax, jitter: o.Jitter},
		onStall: func(d time.Duration) { s.count(func(c *Stats) { c.Stalls++; c.Stalled += d }) },
	}
	return s, nil
}

// Run opens the port, waits for it if it is missing, and sends what it reads to out until ctx ends; several Sources
// may share one channel. Everything read before the end is sent, so out must be received from until Run has returned.
// It returns nil; no goroutine is left.
func (s *Source) Run(ctx context.Context, out chan<- Item) error {
	s.out = out
	now := s.o.Clock.SinceStart()
	s.downAt = now
	for _, w := range s.watches {
		w.since = now
	}
	var wg sync.WaitGroup
	defer wg.Wait()
	wg.Go(func() { s.link.run(ctx) })

	timer := time.NewTimer(s.nextLook(now))
	defer timer.Stop()
	for {
		select {
		case m, ok := <-s.link.in:
			if !ok {
				s.end()
				return nil
			}
			s.handle(m)
		case change := <-s.changes:
			s.changed(change)
		case <-timer.C:
			// What was read before counts before time does.
			for range len(s.link.in) {
				if m, ok := <-s.link.in; ok {
					s.handle(m)
				}
			}
			s.look(s.o.Clock.stamp())
			s.dirty = true
		}
		if s.dirty {
			s.dirty = false
			timer.Reset(s.nextLook(s.o.Clock.SinceStart()))
		}
	}
}

// end counts what was left unfinished, and tells what has not been told.
func (s *Source) end() {
	s.o.Decoder.Reset()
	s.count(func(c *Stats) { c.Open = false; c.PassedOver = s.o.Decoder.PassedOver() })
	s.teller.flush(s.o.Clock.SinceStart())
}

// handle takes one message of the reading goroutine.
func (s *Source) handle(m *message) {
	if m.stalled > 0 {
		s.portStalled(m.at, m.stalled)
	}
	switch m.kind {
	case received:
		s.received(m)
	case opened:
		s.portOpened(m)
	case unopened:
		s.portUnopened(m)
	case lost:
		s.portLost(m)
	case told:
		s.event(m.at, m.event)
	}
}

// received decodes the bytes of one read.
func (s *Source) received(m *message) {
	// The timer may be late: it stands still while the machine sleeps. Then the silence before this read is told first.
	if m.at.Mono-s.readAt > s.o.Silence {
		s.look(m.at)
		s.dirty = true
	}
	s.readAt = m.at.Mono
	s.decode(m.bytes, m.at)
	s.link.release(m)
}

func (s *Source) decode(b []byte, at frame.Stamp) {
	s.count(func(c *Stats) { c.Bytes += uint64(len(b)) })
	s.o.Decoder.Feed(b, at)
	var f frame.Frame
	for s.o.Decoder.Next(&f) {
		s.frame(&f)
	}
	s.count(func(c *Stats) { c.PassedOver = s.o.Decoder.PassedOver() })
}

// frame makes a reading of a frame, or an event if it belongs to no instrument.
func (s *Source) frame(f *frame.Frame) {
	var w *watch
	if f.Addressed {
		w = s.at[string(f.Address)]
	}
	refusal := f.Refusal
	if w == nil {
		if refusal == nil {
			refusal = refuseAddress(f.Address, s.o.Instruments)
		}
		s.count(func(c *Stats) { c.Frames++; c.Unattributed[refusal.Code]++ })
		s.refused("", 0, refusal, f)
		return
	}
	r := convert.Reading{
		Name:       convert.Name{Run: s.o.Run, Instrument: w.name, Seq: s.next(w)},
		ReceivedAt: f.At.Wall, SinceStart: f.At.Mono,
		Frame: bytes.Clone(f.Raw), Refusal: refusal,
	}
	if refusal != nil {
		s.count(func(c *Stats) { c.Frames++; c.Refused[refusal.Code]++ })
		s.refused(w.name, r.Seq, refusal, f)
		w.refused++
		s.send(Item{Reading: r})
		return
	}
	r.High, r.Low, r.Indicated = f.High, f.Low, f.Indicated
	r.Temperature, r.Tilt = f.Temperature, f.Tilt
	r.AmbientTemperature, r.AmbientPressure, r.AmbientHumidity = f.AmbientTemperature, f.AmbientPressure, f.AmbientHumidity
	r.HighSignal, r.LowSignal, r.Camera, r.Contact = f.HighSignal, f.LowSignal, f.Camera, f.Contact
	s.good(w, f.At.Mono)
	s.send(Item{Reading: r})
}

// next gives the number of the instrument's next reading.
func (s *Source) next(w *watch) uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	w.Seq++
	return w.Seq
}

// send hands an item over. It waits for the consumer if it must, and counts that.
func (s *Source) send(it Item) {
	select {
	case s.out <- it:
		return
	default:
	}
	start := s.o.Clock.SinceStart()
	s.out <- it
	end := s.o.Clock.SinceStart()
	s.count(func(c *Stats) { c.Waits++; c.Waited += end - start })
}

// event hands an event over.
func (s *Source) event(at frame.Stamp, e PortEvent) {
	s.eventSeq++
	e.Run, e.Port, e.Seq = s.o.Run, s.o.Port, s.eventSeq
	e.ReceivedAt, e.SinceStart = at.Wall, at.Mono
	e.Count = max(e.Count, 1)
	s.send(Item{Event: &e})
}
