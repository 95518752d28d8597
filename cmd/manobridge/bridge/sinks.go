package bridge

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/mqtt"
	"manobridge/publish/series"
)

// openSinks builds an outbox for every sink the configuration names. Nothing is connected before Run.
func (b *Bridge) openSinks() error {
	c := b.o.Config
	if m := c.Publish.MQTT; m != nil {
		sink, err := mqtt.New(b.mqttOptions(m))
		if err != nil {
			return err
		}
		b.mqtt = sink
		err = b.addOutbox(publish.Options{Sink: sink, LiveWithin: time.Duration(m.LiveWithin), BacklogPerSecond: m.BacklogPerS})
		if err != nil {
			return err
		}
	}
	if s := c.Publish.Series; s != nil {
		sink, err := series.New(series.Options{URL: s.URL, Org: s.Org, Bucket: s.Bucket, Token: s.Token.Reveal(), Site: c.Site, Logger: b.o.Log})
		if err != nil {
			return err
		}
		b.closers = append(b.closers, sink.Close)
		// The store keeps results by their time, so none is late there.
		if err := b.addOutbox(publish.Options{Sink: sink, OneLane: true, Batch: series.Largest}); err != nil {
			return err
		}
	}
	return nil
}

// addOutbox makes the outbox of one sink.
func (b *Bridge) addOutbox(o publish.Options) error {
	o.Rows, o.Run, o.SinceStart, o.Logger = b.journal, b.run, b.clock.SinceStart, b.o.Log
	o.DrainWithin = time.Duration(b.o.Config.Run.Drain)
	if b.o.Play != nil {
		o.Run = NewRun(b.started) // no row is of this run, so that all of a recording is late
	}
	out, err := publish.NewOutbox(o)
	if err != nil {
		return err
	}
	b.outboxes = append(b.outboxes, out)
	return nil
}

func (b *Bridge) mqttOptions(m *configs.MQTT) mqtt.Options {
	c := b.o.Config
	o := mqtt.Options{
		URL: m.URL, ClientID: m.ClientID, Username: m.Username, Password: m.Password.Reveal(),
		Prefix: m.Prefix, Site: c.Site, Bridge: c.Bridge, Run: b.run, Logger: b.o.Log,
	}
	if o.ClientID == "" {
		o.ClientID = m.Prefix + "-" + c.Site + "-" + c.Bridge
	}
	if t := m.TLS; t != nil {
		o.TLS = mqtt.TLS{CAFile: t.CAFile, CertFile: t.CertFile, KeyFile: t.KeyFile}
	}
	if b.o.Play != nil {
		// Beside a bridge of the same name that runs, and without a word about its instruments.
		o.ClientID, o.Bridge = o.ClientID+"-"+b.run, c.Bridge+"-play"
		return o
	}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if in.Offline {
			continue
		}
		o.Instruments = append(o.Instruments, in.Name)
		about := publish.About{Instrument: in.Name, Bridge: c.Bridge, Kind: in.Geometry.Kind, Liquid: in.Liquid,
			Quantity: convert.DifferentialValue, Config: b.instruments[in.Name].set.Hash}
		if in.Geometry.Kind == configs.Sealed {
			about.Quantity = convert.AbsoluteValue
		}
		if in.RangePa != nil {
			about.RangePa = *in.RangePa
		}
		if in.Zero != nil {
			about.ZeroDate = in.Zero.Date.String()
		}
		o.About = append(o.About, about)
	}
	return o
}

// deliver runs the outboxes until ctx ends and they have drained, then lets the broker's connection say goodbye.
func (b *Bridge) deliver(ctx context.Context) error {
	connection, hangUp := context.WithCancel(context.Background())
	defer hangUp()
	var errs [2]error
	var link sync.WaitGroup
	if b.mqtt != nil {
		link.Go(func() { errs[0] = b.mqtt.Run(connection) })
	}
	// One that cannot follow the journal ends the others too.
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var boxes sync.WaitGroup
	failed := make([]error, len(b.outboxes))
	for i, o := range b.outboxes {
		boxes.Go(func() {
			defer stop()
			failed[i] = o.Run(ctx)
		})
	}
	if len(b.outboxes) == 0 {
		<-ctx.Done()
	}
	boxes.Wait()
	hangUp()
	link.Wait()
	errs[1] = errors.Join(failed...)
	return errors.Join(errs[:]...)
}

// Delivery is how far one sink is.
type Delivery struct {
	Sink                            string
	Delivered, Waiting, Quarantined int64
	Link                            string // up, down, …
}

// Deliveries tells how far every sink is.
func (b *Bridge) Deliveries() []Delivery {
	out := make([]Delivery, len(b.outboxes))
	for i, o := range b.outboxes {
		s := o.Stats()
		out[i] = Delivery{Sink: s.Sink, Delivered: s.Live + s.Late, Waiting: s.Lag, Quarantined: s.Quarantined, Link: string(s.Link)}
	}
	return out
}

// Status is one line for a person.
func (b *Bridge) Status() string {
	n := b.Counts()
	line := fmt.Sprintf("%d readings, %d bad", n.Readings, n.Bad)
	for _, d := range b.Deliveries() {
		line += fmt.Sprintf("; %s %s, %d waiting", d.Sink, d.Link, d.Waiting)
	}
	return line
}
