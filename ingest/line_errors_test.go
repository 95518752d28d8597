package ingest_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"maps"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/modbus"
	"manobridge/ingest/serialport"
)

// driver counts as told, in place of a real one whose line is disturbed.
type driver struct {
	*ingesttest.Port
	mu     sync.Mutex
	counts map[string]uint32
}

type counting struct {
	io.ReadCloser
	d *driver
}

func (d *driver) open(ctx context.Context) (io.ReadCloser, error) {
	p, err := d.Open(ctx)
	if err != nil {
		return nil, err
	}
	return counting{p, d}, nil
}

func (d *driver) add(name string, n uint32) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.counts[name] += n
}

func (c counting) LineErrors() map[string]uint32 {
	c.d.mu.Lock()
	defer c.d.mu.Unlock()
	return maps.Clone(c.d.counts)
}

// page is a log that can be read while it is written.
type page struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (p *page) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.Write(b)
}

func (p *page) String() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.b.String()
}

// What the driver counts is told when it grows, at most once a minute, and that it is over; what it had counted before the
// port was opened is not of this run, and its counts start anew at 2^32.
func TestLineErrorsAreToldOnChange(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &driver{Port: ingesttest.NewPort(), counts: map[string]uint32{"parity": 1<<32 - 2, "framing": 7}}
		o, _ := patient(t, d.Port)
		log := &page{}
		o.Log = slog.New(slog.NewTextHandler(log, nil))
		o.Open = d.open
		o.Silence = 24 * time.Hour
		r := ingesttest.Run(t, o)
		told := func() int { return strings.Count(log.String(), "code=port-errors") }
		after(time.Minute)
		if s := r.Source.Stats(); told() != 0 || s.Line == nil || s.Line["framing"] != 0 {
			t.Errorf("got %v and log\n%swant no errors, and that known", s.Line, log)
		}
		d.add("parity", 3)
		after(10 * time.Second)
		if !strings.Contains(log.String(), "level=WARN") || !strings.Contains(log.String(), "code=port-errors port=rack-a parity=3\n") {
			t.Errorf("got\n%swant 3 parity errors told", log)
		}
		for range 4 {
			d.add("framing", 1)
			after(10 * time.Second)
		}
		if told() != 1 {
			t.Errorf("got\n%swant no second word within the minute", log)
		}
		after(20 * time.Second)
		if !strings.Contains(log.String(), "port=rack-a framing=4\n") || told() != 2 {
			t.Errorf("got\n%swant 4 framing errors told after a minute", log)
		}
		after(2 * time.Minute)
		if !strings.Contains(log.String(), "level=INFO msg=\"characters arrive whole again\" code=port-errors port=rack-a") || told() != 3 {
			t.Errorf("got\n%swant the end told once", log)
		}
		if got := r.Source.Stats().Line; got["parity"] != 3 || got["framing"] != 4 {
			t.Errorf("got %v, want 3 of parity and 4 of framing", got)
		}
	})
}

// A pseudo-terminal does not count, and nobody says that there were no errors.
func TestLineErrorsAreAbsentWhereTheDriverDoesNotCount(t *testing.T) {
	line, r := plugged(t)
	line.Send("02,1.5,21\r\n")
	r.WantFrames("duct-2", "02,1.5,21")
	if got := r.Source.Stats().Line; got != nil {
		t.Errorf("got %v, want nothing", got)
	}
	other := ingesttest.NewLine(t)
	p, err := port(other.Path)(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if got := p.(*serialport.Port).LineErrors(); got != nil {
		t.Errorf("got %v of a pseudo-terminal, want nothing", got)
	}
	if err := p.Close(); err != nil {
		t.Error(err)
	}
	if got := p.(*serialport.Port).LineErrors(); got != nil {
		t.Errorf("got %v of a closed port, want nothing", got)
	}
}

// A port that is asked through counts as the port below it does.
func TestLineErrorsOfAPortThatIsAsked(t *testing.T) {
	for _, counts := range []map[string]uint32{nil, {"parity": 3}} {
		p, err := ingest.NewPoll(ingest.PollOptions{
			Open: func(context.Context) (io.ReadCloser, error) { return askedCounting{counts: counts}, nil },
			Port: "rack-a", Timeout: time.Second, Character: time.Millisecond, Clock: ingest.SystemClock(time.Now()), Log: slog.New(slog.DiscardHandler),
			Instruments: []ingest.Asked{{Address: "2", Unit: 2, Every: time.Second, Registers: map[string]modbus.Register{
				"low_mm": {Function: modbus.ReadHolding, Type: "float32", Order: "ABCD", Scale: 1}}}},
		})
		if err != nil {
			t.Fatal(err)
		}
		port, err := p.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if got := port.(interface{ LineErrors() map[string]uint32 }).LineErrors(); !maps.Equal(got, counts) || (got == nil) != (counts == nil) {
			t.Errorf("got %v, want %v", got, counts)
		}
		if err := port.Close(); err != nil {
			t.Error(err)
		}
	}
}

// askedCounting is a port that only counts.
type askedCounting struct {
	ingest.AskedPort
	counts map[string]uint32
}

func (a askedCounting) LineErrors() map[string]uint32 { return a.counts }
func (askedCounting) Close() error                    { return nil }
