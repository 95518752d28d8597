package ingest_test

import (
	"errors"
	"io"
	"slices"
	"sync"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/modbus"
)

// echoed gives options for a polled line behind an adapter that hears itself, with duct-2 at address 2 and so on.
func echoed(t *testing.T, path string, timeout, turnaround time.Duration, units ...ingest.Asked) ingest.Options {
	t.Helper()
	open := modbusPort(path, timeout)
	o := ingesttest.Options(t, open, nil)
	o.Instruments = map[string]string{}
	for _, in := range units {
		o.Instruments[in.Address] = "duct-" + in.Address
	}
	p, err := ingest.NewPoll(ingest.PollOptions{Port: o.Port, Open: open, Instruments: units, Timeout: timeout, Turnaround: turnaround, Echo: true,
		Character: 11 * time.Second / 19200, Clock: o.Clock, Log: o.Log})
	if err != nil {
		t.Fatal(err)
	}
	o.Open, o.Decoder = p.Open, p.Decoder()
	return o
}

// adapter stands between a line and a slave: what the program under test sends comes back to it before it reaches the slave,
// as where two wires carry both directions. It is ended with the test.
type adapter struct {
	mu     sync.Mutex
	asked  int             // questions that were passed on
	pauses []time.Duration // before each question but the first, since what was heard on the line last
}

func newAdapter(t *testing.T, near *ingesttest.Line, far string) *adapter {
	t.Helper()
	opened, err := modbusPort(far, 100*time.Millisecond)(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	slave, ok := opened.(ingest.AskedPort)
	if !ok {
		t.Fatal("the port of the slave cannot be written to")
	}
	a, master := new(adapter), near.Master()
	var last time.Time // of a byte on the line, taken before it is handed over
	var both sync.WaitGroup
	both.Go(func() { // questions, of eight bytes each
		var q [8]byte
		for {
			if _, err := io.ReadFull(master, q[:]); err != nil {
				return
			}
			a.mu.Lock()
			if a.asked++; !last.IsZero() {
				a.pauses = append(a.pauses, time.Since(last))
			}
			last = time.Now()
			a.mu.Unlock()
			_, err := master.Write(q[:])
			if _, to := slave.Write(q[:]); errors.Join(err, to) != nil {
				return
			}
		}
	})
	both.Go(func() { // answers
		var b [256]byte
		for {
			n, err := slave.Read(b[:])
			if silent, ok := err.(interface{ Timeout() bool }); ok && silent.Timeout() {
				continue
			}
			a.mu.Lock()
			last = time.Now()
			a.mu.Unlock()
			if err != nil {
				return
			}
			if _, err := master.Write(b[:n]); err != nil {
				return
			}
		}
	})
	t.Cleanup(func() {
		near.Unplug()
		if err := slave.Close(); err != nil {
			t.Error(err)
		}
		both.Wait()
	})
	return a
}

// Two instruments in one unit, each with registers of its own, and one in another unit, behind an adapter that hears itself:
// each has its own values, no echo is taken for an answer, and nobody is asked before the turnaround is over. The slave is
// pymodbus's.
func TestPollEchoAndTurnaround(t *testing.T) {
	const turnaround = 60 * time.Millisecond
	far := ingesttest.NewModbusLine(t, slave, "17,hr,0,float32,ABCD,113.25", "17,hr,2,float32,ABCD,21.5", "17,ir,40,int16,,-1234", "17,ir,50,int16,,215", "18,hr,0,float32,ABCD,0.5")
	near := ingesttest.NewLine(t)
	a := newAdapter(t, near, far.Path)
	input := func(at uint16, scale float64) modbus.Register {
		return modbus.Register{Function: modbus.ReadInput, At: at, Type: "int16", Scale: scale}
	}
	o := echoed(t, near.Path, 300*time.Millisecond, turnaround,
		ingest.Asked{Address: "17/left", Unit: 17, Every: 50 * time.Millisecond, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD"), "temperature_c": float(2, "ABCD")}},
		ingest.Asked{Address: "17/right", Unit: 17, Every: 50 * time.Millisecond, Registers: map[string]modbus.Register{"high_mm": input(40, 0.0625), "temperature_c": input(50, 0.125)}},
		ingest.Asked{Address: "18", Unit: 18, Every: 50 * time.Millisecond, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}})
	o.Silence = time.Minute
	r := ingesttest.Run(t, o)
	// As set in the slave; scales as stated: -1234/16 and 215/8 are exact.
	wants := map[string]convert.Reading{
		"duct-17/left": {Low: millimetres(113.25), Temperature: celsius(21.5)}, "duct-17/right": {High: millimetres(-1234.0 / 16), Temperature: celsius(215.0 / 8)}, "duct-18": {Low: millimetres(0.5)},
	}
	for name := range wants {
		ingesttest.Eventually(t, "three readings of "+name, func() bool { return len(r.Readings(name)) >= 3 })
	}
	r.Stop()
	for name, want := range wants {
		for _, rd := range r.Readings(name) {
			if rd.Refusal != nil || rd.Low != want.Low || rd.High != want.High || rd.Temperature != want.Temperature {
				t.Errorf("%s: got low %v, high %v, temperature %v, %v, want %v, %v, %v", name, rd.Low, rd.High, rd.Temperature, rd.Refusal, want.Low, want.High, want.Temperature)
			}
			if q := string(rd.Frame[:3]); q != "\x11\x03\x08" && q != "\x11\x04\x02" && q != "\x12\x03\x04" {
				t.Errorf("%s: got % X, want answers alone, which begin with unit, function and count", name, rd.Frame)
			}
		}
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if least := slices.Min(a.pauses); least < turnaround {
		t.Errorf("got a question %v after the line was last in use, want %v at least (of %d)", least, turnaround, a.asked)
	}
}

// What comes in place of the echo is refused, and is no part of what is made of the next answer.
func TestPollWithoutItsEcho(t *testing.T) {
	question := string(modbus.Question{Unit: 2, Function: modbus.ReadHolding, Count: 2}.Append(nil))
	answer := "\x02\x03\x04\x41\x48\x00\x00" // 12.5
	answer += crcOf(answer)
	fault := "\x02\x83\x04" // an exception is shorter than the echo
	fault += crcOf(fault)
	for name, instead := range map[string]string{"the answer at once": answer, "an exception at once": fault, "another question": "\x03" + question[1:]} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			line := ingesttest.NewLine(t)
			r := ingesttest.Run(t, echoed(t, line.Path, 500*time.Millisecond, 0,
				ingest.Asked{Address: "2", Unit: 2, Every: 50 * time.Millisecond, Registers: map[string]modbus.Register{"low_mm": float(0, "ABCD")}}))
			line.Received(len(question))
			line.Send(instead)
			for range 2 {
				line.Received(len(question))
				line.Send(question + answer)
			}
			ingesttest.Eventually(t, "the good readings", func() bool { return len(r.Readings("duct-2")) >= 3 })
			list := r.Readings("duct-2")
			if first := list[0]; first.Refusal == nil || first.Refusal.Code != convert.FrameFormat || first.Low.Set {
				t.Errorf("got %v mm, %v of % X, want what is no echo refused", first.Low, first.Refusal, first.Frame)
			}
			for _, rd := range list[1:] {
				if rd.Refusal != nil || rd.Low != millimetres(12.5) || string(rd.Frame) != answer {
					t.Errorf("got %v, %v of % X, want 12.5 mm of % X", rd.Low, rd.Refusal, rd.Frame, answer)
				}
			}
		})
	}
}
