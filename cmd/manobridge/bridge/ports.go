package bridge

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/serialport"
)

// line is a port that is read.
type line struct {
	port   *configs.Port
	at     map[string]string // the instrument or the station at each address
	unit   string            // readingUnit
	asked  []configs.Asked   // at a port that asks
	source *ingest.Source

	stop context.CancelFunc
	done chan struct{} // closed when the source has ended
	err  error         // after done
}

// openLines builds a source for every port that has instruments or stations. It opens none.
func (b *Bridge) openLines(c *configs.Config) ([]*line, error) {
	var lines []*line
	for i := range c.Ports {
		l := newLine(c, &c.Ports[i])
		if len(l.at) == 0 || !b.reads(l.port) {
			continue
		}
		if err := b.open(c, l); err != nil {
			return nil, fmt.Errorf("port %s: %w", l.port.Name, err)
		}
		lines = append(lines, l)
	}
	return lines, nil
}

// newLine is a port without its source.
func newLine(c *configs.Config, p *configs.Port) *line {
	return &line{port: p, at: c.Speakers(p.Name), unit: readingUnit(c, p.Name), asked: c.Asked(p)}
}

// open builds the source of a line.
func (b *Bridge) open(c *configs.Config, l *line) error {
	p := l.port
	settings := Settings(p)
	if err := settings.Validate(); err != nil {
		return err
	}
	reads := heartbeat
	if p.Ask == nil {
		settings.ReadTimeout = heartbeat // nothing is lost by it: Read says that nothing came, and is called again
	} else {
		for _, a := range l.asked {
			reads = max(reads, time.Duration(a.Every))
		}
		reads += 20 * time.Duration(p.Ask.Timeout) // the longest pause, that of one that is given up, its round, and a line that must fall silent
	}
	open, decoder, err := Line(c, p, settings, b.clock, b.o.Log)
	if err != nil {
		return err
	}
	l.source, err = ingest.New(ingest.Options{
		Run: b.run, Port: p.Name, Open: open, Decoder: decoder, Instruments: l.at,
		Silence: time.Duration(p.Silence), RetryMin: time.Duration(p.Reopen.First), RetryMax: time.Duration(p.Reopen.Longest),
		Clock: b.clock, Log: b.o.Log,
	})
	if err == nil {
		l.source.WatchReads(reads)
	}
	return err
}

// heartbeat is how often reading a silent line comes back, so that a driver that hangs is told from silence.
const heartbeat = 10 * time.Second

// start reads the line until the bridge stops or the line is stopped.
func (b *Bridge) start(l *line) {
	var ctx context.Context
	ctx, l.stop = context.WithCancel(b.live.ctx)
	l.done = make(chan struct{})
	b.live.ports.Go(func() {
		defer close(l.done)
		l.err = b.read(ctx, b.live.stop, l.source, b.live.items)
	})
}

// Line gives what opens a port of the configuration and reads its frames: one that listens, or one that asks its
// instruments.
func Line(c *configs.Config, p *configs.Port, settings serialport.Settings, clock ingest.Clock, log *slog.Logger) (ingest.Opener, frame.Decoder, error) {
	decoders := func() (frame.Decoder, error) {
		o := FrameOptions(&p.Frame)
		o.ReadingUnit = readingUnit(c, p.Name)
		o.ChannelsOnly = c.OnlyStations(p.Name)
		return frame.New(o)
	}
	if p.Ask == nil {
		decoder, err := decoders()
		return settings.Opener(), decoder, err
	}
	settings.ReadTimeout = time.Duration(p.Ask.Timeout)
	o := PollOptions(p, c.Asked(p))
	if p.InFrames() {
		o.Lines = LineTalk(p, decoders)
		settings.ReadTimeout = time.Duration(p.Ask.Gap)
	}
	o.Open, o.Clock, o.Log = settings.Opener(), clock, log
	poll, err := ingest.NewPoll(o)
	if err != nil {
		return nil, nil, err
	}
	return poll.Open, poll.Decoder(), nil
}

// readingUnit is the unit that may stand behind a scale reading in the frames of a port: that of the engraved scales on
// it, so that another unit is refused and not taken for it. Where they differ, none may.
func readingUnit(c *configs.Config, port string) (unit string) {
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if in.Port != port || in.Geometry.Unit == "" {
			continue
		}
		if unit != "" && unit != in.Geometry.Unit {
			return ""
		}
		unit = in.Geometry.Unit
	}
	return unit
}

// Settings maps a port of the configuration.
func Settings(p *configs.Port) serialport.Settings {
	s := serialport.Settings{Device: p.Device, Baud: p.Baud, DataBits: p.DataBits, Parity: p.Parity, StopBits: p.StopBits}
	if p.USB != nil {
		s.USB = serialport.USB{Vendor: p.USB.Vendor, Product: p.USB.Product, Serial: p.USB.Serial, Interface: p.USB.Interface}
	}
	return s
}

// FrameOptions maps a frame of the configuration.
func FrameOptions(f *configs.Frame) frame.Options {
	o := frame.Options{
		Format: f.Format, Fields: f.Fields, Separator: separator(f.Separator), Decimal: f.Decimal, Terminator: f.Terminator,
		HeaderLines: f.HeaderLines, ErrorWords: f.ErrorWords, MaxGap: time.Duration(f.MaxGap),
		Pattern: f.Pattern, Transducers: f.Transducers, TalkerAddress: f.TalkerAddress,
	}
	if f.Keys != nil {
		o.Keys = f.Keys.Paths()
	}
	if f.Binary != nil {
		o.Binary = binary(f.Binary)
	}
	if c := f.Checksum; c != nil {
		o.Checksum = frame.Checksum{Name: c.Name, Marker: c.Marker, Skip: c.Skip, CoversMarker: c.CoversMarker, LowByteFirst: c.LowByteFirst}
	}
	return o
}

// binary maps frames that are not text.
func binary(b *configs.Binary) frame.Binary {
	o := frame.Binary{
		Sync: b.Start, Length: b.Length,
		Checksum: b.Checksum.Name, ChecksumAt: b.Checksum.At, ChecksumFrom: b.Checksum.From, LowByteFirst: b.Checksum.LowByteFirst,
	}
	for _, f := range b.Fields {
		one := frame.BinaryField{Field: f.Field, At: f.At, Type: f.Type, Order: f.Order}
		if f.Scale != nil {
			one.Scale = *f.Scale
		}
		for _, none := range f.NoValue {
			one.NoValue = append(one.NoValue, strings.ReplaceAll(none, " ", ""))
		}
		o.Fields = append(o.Fields, one)
	}
	return o
}

// separator turns the words of the configuration into what stands on the line.
func separator(s string) string {
	switch s {
	case "tab":
		return "\t"
	case "space":
		return "whitespace"
	}
	return s
}
