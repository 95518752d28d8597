package simulate

import (
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// Fate is what became of a frame on its way onto the line.
type Fate uint8

// What can become of a frame. Only a Good one yields a reading, and a Doubled one two.
const (
	Good         Fate = iota
	NotANumber        // a digit of a position or temperature turned into another character
	FieldMissing      // one field and its separator left out
	NULByte           // a byte read as NUL, as a parity error is
	Truncated         // the rest of the frame and its line end lost: the next frame runs into it
	Doubled           // the line sent twice
	Noise             // bytes of no frame at all, without a line end: the next frame runs into them
	Swallowed         // a sound frame that ran into what came before it
	fates
)

// String names the fate in a few words for a summary.
func (f Fate) String() string {
	return [...]string{"good", "not a number", "field missing", "NUL byte", "cut short", "sent twice", "noise burst", "run into"}[f]
}

// Readings is how many readings a bridge should get out of it.
func (f Fate) Readings() int {
	switch f {
	case Good:
		return 1
	case Doubled:
		return 2
	}
	return 0
}

// Frame is what a digitizer puts onto a line at one moment, and the truth behind it.
type Frame struct {
	Bytes []byte
	At    time.Duration // since the start
	Fate  Fate

	// The truth. Of noise there is none, and Instrument is empty.
	Instrument string
	Text       string  // the frame as it should have been, without its line end
	PressurePa float64 // true differential pressure
	LiquidC    float64 // true temperature
}

// lineEnd closes every frame.
const lineEnd = "\r\n"

// Line plays the digitizer of one port: a sequence of frames without end. Not safe for concurrent use.
type Line struct {
	hall        *Hall
	period      time.Duration
	both        bool
	instruments []*Instrument
	noise       map[string]*rand.Rand // one reading's errors, a source for each instrument

	corrupt     *rand.Rand
	corruptRate float64
	dirty       bool // the line's last bytes had no line end

	scan, next int
}

// Line gives the digitizer of a port; corruptRate is the share of frames, 0 to 1, that something happens to. It answers
// nil for a port the hall does not have.
func (h *Hall) Line(port string, corruptRate float64) *Line {
	for _, p := range h.Declared.Ports {
		if p.Name != port {
			continue
		}
		l := &Line{
			hall: h, period: p.Period, both: p.BothLimbs, noise: map[string]*rand.Rand{},
			corrupt: stream(h.Seed, "corrupt", port), corruptRate: corruptRate,
		}
		for i := range h.Declared.Instruments {
			if in := &h.Declared.Instruments[i]; in.Port == port {
				l.instruments = append(l.instruments, in)
				l.noise[in.Name] = stream(h.Seed, "reading", in.Name)
			}
		}
		return l
	}
	return nil
}

// Next gives the next frame. At never falls from one frame of a line to the next.
func (l *Line) Next() Frame {
	if len(l.instruments) == 0 {
		return Frame{At: math.MaxInt64}
	}
	n := len(l.instruments)
	at := time.Duration(l.scan)*l.period + time.Duration(l.next)*l.period/time.Duration(n)
	if !l.dirty && l.corrupt.Float64() < l.corruptRate {
		// Noise comes between two frames, the rest happens to one.
		if fate := Fate(1 + l.corrupt.IntN(int(Swallowed)-1)); fate == Noise {
			l.dirty = true
			return Frame{Bytes: noiseBurst(l.corrupt), At: at, Fate: Noise}
		} else {
			f := l.sound(at)
			f.Fate = fate
			f.Bytes = spoil(l.corrupt, f.Text, fate)
			l.dirty = fate == Truncated
			return f
		}
	}
	f := l.sound(at)
	f.Bytes = []byte(f.Text + lineEnd)
	if l.dirty {
		f.Fate, l.dirty = Swallowed, false
	}
	return f
}

// sound makes the next instrument's frame as it should be, and steps on.
func (l *Line) sound(at time.Duration) Frame {
	in := l.instruments[l.next]
	if l.next++; l.next == len(l.instruments) {
		l.next, l.scan = 0, l.scan+1
	}
	p, t := l.hall.Story.PressurePa(in.Name, at), l.hall.Story.LiquidC(in.Name, at)
	o, _ := l.hall.Observe(l.noise[in.Name], in.Name, p, t)
	return Frame{At: at, Instrument: in.Name, PressurePa: p, LiquidC: t, Text: text(in, o, l.both)}
}

// text is an observation as a delimited line: address, low_mm, high_mm where both are digitized, temperature_c.
func text(in *Instrument, o Observation, both bool) string {
	b := append([]byte(in.Address), ',')
	b = append(strconv.AppendFloat(b, o.LowMm, 'f', 2, 64), ',')
	if both {
		b = append(strconv.AppendFloat(b, o.HighMm, 'f', 2, 64), ',')
	}
	return string(strconv.AppendFloat(b, o.TemperatureC, 'f', 2, 64))
}
