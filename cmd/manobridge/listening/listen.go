// Package listening shows what a digitizer sends, as it comes: each frame raw, beside what it was decoded to or why it
// was refused. It publishes nothing and keeps nothing but the recording that was asked for, and it never guesses what a
// number means: a configuration it proposes leaves the fields to be named.
package listening

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/recording"
)

// Options says what to listen to.
type Options struct {
	// Open opens the port. A Read of it that fails with Timeout() true is told of, and reading goes on.
	Open ingest.Opener
	// Decoder of the frames; nil where no configuration describes them: lines are then shown raw and their form is guessed.
	Decoder frame.Decoder
	Device  string // for the configuration proposed
	Baud    int    // bit/s, for the configuration proposed
	Out     io.Writer
	// Record, where not nil, takes each read as package recording writes it.
	Record io.Writer
}

// Run listens until ctx ends, which is no error, or the port fails.
func Run(ctx context.Context, o Options) (err error) {
	port, err := o.Open(ctx)
	if err != nil {
		return err
	}
	closed := make(chan error, 1)
	stop := context.AfterFunc(ctx, func() { closed <- port.Close() })
	defer func() {
		if stop() {
			err = errors.Join(err, port.Close())
			return
		}
		err = errors.Join(err, <-closed)
	}()
	l := listener{o: o}
	began, buf := time.Now(), make([]byte, 4096)
	for {
		n, err := port.Read(buf)
		if ctx.Err() != nil && n == 0 {
			return l.end()
		}
		if n > 0 {
			if err := l.take(buf[:n], frame.Stamp{Wall: time.Now(), Mono: time.Since(began)}); err != nil {
				return err
			}
		}
		var t interface{ Timeout() bool }
		if errors.As(err, &t) && t.Timeout() { // where instruments are asked; the port is well
			if _, err := fmt.Fprintf(o.Out, "%s  %v\n", time.Now().Format("15:04:05.000"), err); err != nil {
				return err
			}
			continue
		}
		if err != nil {
			return errors.Join(err, l.end())
		}
	}
}

// listener shows what was read.
type listener struct {
	o     Options
	heard bool
	cut   cutter
	lines []string // complete ones, for the guess
	told  bool
}

func (l *listener) take(b []byte, at frame.Stamp) error {
	l.heard = true
	if l.o.Record != nil {
		if err := recording.Write(l.o.Record, at.Wall, b); err != nil {
			return fmt.Errorf("recording stopped: %w", err)
		}
	}
	if l.o.Decoder != nil {
		l.o.Decoder.Feed(b, at)
		var f frame.Frame
		for l.o.Decoder.Next(&f) {
			if _, err := fmt.Fprintf(l.o.Out, "%s  %s  %s\n", at.Wall.Format("15:04:05.000"), strconv.QuoteToASCII(string(f.Raw)), decoded(&f)); err != nil {
				return err
			}
		}
		return nil
	}
	for _, line := range l.cut.lines(b) {
		if _, err := fmt.Fprintf(l.o.Out, "%s  %s\n", at.Wall.Format("15:04:05.000"), strconv.QuoteToASCII(line)); err != nil {
			return err
		}
		if len(l.lines) < enough {
			l.lines = append(l.lines, line)
		}
		if len(l.lines) == enough && !l.told {
			if err := l.propose(); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l *listener) propose() error {
	l.told = true
	_, err := io.WriteString(l.o.Out, propose(l.lines, l.o.Device, l.o.Baud))
	return err
}

// end tells what would otherwise stay unsaid.
func (l *listener) end() error {
	if !l.heard {
		_, err := io.WriteString(l.o.Out, "Nothing was received. Check the cable, the rate, and that the digitizer sends.\n")
		return err
	}
	if l.o.Decoder == nil && !l.told {
		return l.propose()
	}
	return nil
}

// decoded says what a frame said, or why it is not used.
func decoded(f *frame.Frame) string {
	if f.Refusal != nil {
		return fmt.Sprintf("refused, %s: %s", f.Refusal.Code, f.Refusal.Error())
	}
	var parts []string
	if len(f.Address) > 0 {
		parts = append(parts, "address "+strconv.QuoteToASCII(string(f.Address)))
	}
	add := func(name string, set bool, v float64) {
		if set {
			parts = append(parts, name+" "+strconv.FormatFloat(v, 'g', 9, 64))
		}
	}
	add("low_mm", f.Low.Set, f.Low.V.Millimetres())
	add("high_mm", f.High.Set, f.High.V.Millimetres())
	add("reading", f.Indicated.Set, f.Indicated.V)
	add("temperature_c", f.Temperature.Set, f.Temperature.V.Celsius())
	add("tilt_deg", f.Tilt.Set, f.Tilt.V.Degrees())
	add("ambient_c", f.AmbientTemperature.Set, f.AmbientTemperature.V.Celsius())
	add("pressure_hpa", f.AmbientPressure.Set, float64(f.AmbientPressure.V)/100)
	add("humidity_pct", f.AmbientHumidity.Set, float64(f.AmbientHumidity.V)*100)
	add("low-limb signal", f.LowSignal.Set, f.LowSignal.V)
	add("high-limb signal", f.HighSignal.Set, f.HighSignal.V)
	if c := f.Camera; c != nil {
		for i, row := range c.Fiducials {
			add(fmt.Sprintf("fiducial_%d_px", i+1), row.Set, row.V)
		}
		add("score", c.Score.Set, c.Score.V)
		add("edges", c.Edges.Set, c.Edges.V)
		add("frame_counter", c.Counter.Set, c.Counter.V)
	}
	return strings.Join(parts, ", ")
}

// failsCheck tells a refusal for the check value from any other.
func failsCheck(r *convert.Refusal) bool { return r != nil && r.Code == convert.FrameChecksum }
