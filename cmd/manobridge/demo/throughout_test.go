package demo

import (
	"context"
	"log/slog"
	"maps"
	"sync"
	"testing"
	"time"

	"manobridge/cmd/manobridge/demo/simulate"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/serialport"
)

// TestTheBridgeReadsWhatIsPlayed joins the demo to the bridge's own reading and conversion, over real pseudo-terminals
// and the serial library: five minutes of the story as fast as they are read, one frame in twelve spoilt. Every reading
// due must come out once, unaltered and in order, every spoilt line must be refused, and the truth lie within U.
func TestTheBridgeReadsWhatIsPlayed(t *testing.T) {
	const play, rate = 5 * time.Minute, 1.0 / 12
	b := start(t, Options{Seed: 23, For: play, CorruptRate: rate, AtOnce: true})
	c, err := configs.Load(b.ConfigPath(), configs.Options{HostName: "demo"})
	if err != nil {
		t.Fatal(err)
	}
	convs := converters(t, b.Hall())

	ctx, cancel := context.WithCancel(t.Context())
	items := make(chan ingest.Item, 64)
	var reading sync.WaitGroup
	var sources []*ingest.Source
	for i := range c.Ports {
		src := source(t, c, &c.Ports[i])
		sources = append(sources, src)
		reading.Go(func() {
			if err := src.Run(ctx, items); err != nil {
				t.Errorf("read: %v", err)
			}
		})
	}
	finished := make(chan struct{})
	go func() {
		defer close(finished)
		for item := range items {
			if item.Event != nil || item.Reading.Refusal != nil {
				continue
			}
			res := convs[item.Reading.Instrument].Convert(item.Reading)
			p, ok := res.Pressure()
			d := simulate.Delivered{
				Instrument: res.Instrument, Frame: string(res.Frame), HasPressure: ok,
				PressurePa: p, CombinedPa: res.CombinedU, ExpandedPa: res.ExpandedU,
			}
			if _, known := b.Ledger().Delivered(d); !known {
				t.Errorf("%s: nobody sent %q", d.Instrument, d.Frame)
			}
		}
	}()

	select {
	case <-b.Done():
	case <-time.After(2 * patience):
		t.Error("the writers have not ended")
	}
	if err := b.Err(); err != nil {
		t.Error(err)
	}
	cancel()
	reading.Wait()
	close(items)
	<-finished

	a := b.Ledger().Account()
	if a.Due < 5000 || a.Paired != a.Due || a.Missing+a.Unexpected+a.Waiting != 0 {
		t.Errorf("of %d readings due %d came, %d missing, %d unexpected, %d waiting; want all and no other", a.Due, a.Paired, a.Missing, a.Unexpected, a.Waiting)
	}
	if a.WithValue != a.Paired {
		t.Errorf("%d of %d readings have no pressure", a.Paired-a.WithValue, a.Paired)
	}
	refused := uint64(0)
	for _, src := range sources {
		for _, causes := range []map[convert.Cause]uint64{src.Stats().Refused, src.Stats().Unattributed} {
			causes = maps.Clone(causes)
			delete(causes, convert.Silence)
			delete(causes, convert.PortGone)
			for _, n := range causes {
				refused += n
			}
		}
	}
	want := 0
	for _, fate := range []simulate.Fate{simulate.NotANumber, simulate.FieldMissing, simulate.NULByte, simulate.Swallowed} {
		want += a.Written[fate.String()]
	}
	if refused != uint64(want) {
		t.Errorf("%d lines refused, want %d (%v)", refused, want, a.Written)
	}
	// One hall, whose slopes and zeros stay as drawn, is one draw and not thousands: a share of 95 % cannot be asked
	// of it. But no fair hall is as far off as this: nine instruments, each beyond U with probability 0.05.
	if share := float64(a.Within) / float64(a.WithValue); share < 0.75 {
		t.Errorf("truth within U for %.3f of the readings, want at least 0.75", share)
	}
}

// source reads one port as the configuration says.
func source(t *testing.T, c *configs.Config, p *configs.Port) *ingest.Source {
	t.Helper()
	decoder, err := frame.New(frame.Options{Format: p.Frame.Format, Fields: p.Frame.Fields, Separator: p.Frame.Separator})
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]string{}
	for _, in := range c.Instruments {
		if in.Port == p.Name {
			at[in.Address] = in.Name
		}
	}
	src, err := ingest.New(ingest.Options{
		Run: "test", Port: p.Name, Decoder: decoder, Instruments: at, Silence: time.Hour,
		Open:  serialport.Settings{Device: p.Device, Baud: p.Baud, DataBits: p.DataBits, Parity: p.Parity, StopBits: int(p.StopBits)}.Opener(),
		Log:   slog.New(slog.DiscardHandler),
		Clock: ingest.SystemClock(time.Now()),
	})
	if err != nil {
		t.Fatal(err)
	}
	return src
}
