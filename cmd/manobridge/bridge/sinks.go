package bridge

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/mqtt"
	"manobridge/publish/series"
)

// box is one sink with its outbox.
type box struct {
	name   string
	outbox *publish.Outbox
	mqtt   *mqtt.Sink // nil for another sink
	close  func() error

	stop context.CancelFunc
	done chan struct{} // closed when the sink has stopped
	err  error         // after done
}

// The names of the sinks, as in their cursors.
const (
	toBroker = "mqtt"
	toStore  = "series"
)

// brokerBatch is how many results are read from the journal for the broker in one piece, a megabyte.
const brokerBatch = 1000

// storeGather is how long results wait to be written to the store together: its request takes as long as a hundred of them.
const storeGather = 250 * time.Millisecond

// openBoxes builds an outbox for every sink the configuration names. Nothing is connected before Run.
func (b *Bridge) openBoxes(c *configs.Config, instruments map[string]*instrument) (list []*box, err error) {
	for _, open := range []func(*configs.Config, map[string]*instrument) (*box, error){b.openBroker, b.openStore} {
		x, err := open(c, instruments)
		if err != nil {
			for _, x := range list {
				err = errors.Join(err, x.close())
			}
			return nil, err
		}
		if x != nil {
			list = append(list, x)
		}
	}
	return list, nil
}

// openBroker builds the sink of the broker; nil where none is configured.
func (b *Bridge) openBroker(c *configs.Config, instruments map[string]*instrument) (*box, error) {
	m := c.Publish.MQTT
	if m == nil {
		return nil, nil
	}
	o := b.mqttOptions(c, m, instruments)
	var sink *mqtt.Sink
	if b.o.Play == nil {
		o.OnEventSent = b.eventSent
		if len(m.Requests) > 0 {
			o.OnRequest = b.fromBroker(func() *mqtt.Sink { return sink }, m.Requests)
		}
	}
	sink, err := mqtt.New(o) // declared above, for what calls it back
	if err != nil {
		return nil, err
	}
	out, err := b.outbox(c, publish.Options{Sink: sink, Batch: brokerBatch, LiveWithin: time.Duration(m.LiveWithin), BacklogPerSecond: m.BacklogPerS})
	return &box{name: toBroker, outbox: out, mqtt: sink, close: sink.Close}, err
}

// openStore builds the sink of the store; nil where none is configured.
func (b *Bridge) openStore(c *configs.Config, _ map[string]*instrument) (*box, error) {
	s := c.Publish.Series
	if s == nil {
		return nil, nil
	}
	sink, err := series.New(series.Options{URL: s.URL, Org: s.Org, Bucket: s.Bucket, Token: s.Token.Reveal(), Site: c.Site, Logger: b.o.Log,
		ReadURL: s.ReadBackURL})
	if err != nil {
		return nil, err
	}
	// The store keeps results by their time, so none is late there.
	out, err := b.outbox(c, publish.Options{Sink: sink, OneLane: true, Batch: series.Largest, Gather: storeGather,
		ReadBack: time.Duration(s.ReadBack), OnDropped: b.dropped})
	return &box{name: toStore, outbox: out, close: sink.Close}, err
}

// outbox makes the outbox of one sink.
func (b *Bridge) outbox(c *configs.Config, o publish.Options) (*publish.Outbox, error) {
	o.Rows, o.Run, o.SinceStart, o.Logger = b.journal, b.run, b.clock.SinceStart, b.o.Log
	o.DrainWithin = time.Duration(c.Run.Drain)
	if b.o.Play != nil {
		o.Run = NewRun(b.started) // no row is of this run, so that all of a recording is late
	}
	return publish.NewOutbox(o)
}

func (b *Bridge) mqttOptions(c *configs.Config, m *configs.MQTT, instruments map[string]*instrument) mqtt.Options {
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
			Quantity: convert.DifferentialValue, Config: instruments[in.Name].set.Hash}
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

// send runs a sink until it is stopped and has drained, then lets the broker's connection say goodbye. One that cannot
// follow the journal stops the bridge.
func (b *Bridge) send(x *box) {
	var ctx context.Context
	ctx, x.stop = context.WithCancel(b.live.sinks)
	x.done = make(chan struct{})
	b.live.deliveries.Go(func() {
		defer close(x.done)
		connection, hangUp := context.WithCancel(context.Background())
		defer hangUp()
		var link sync.WaitGroup
		var linkErr error
		if x.mqtt != nil {
			link.Go(func() { linkErr = x.mqtt.Run(connection) })
		}
		err := x.outbox.Run(ctx)
		if ctx.Err() == nil {
			b.live.stop()
		}
		hangUp()
		link.Wait()
		x.err = errors.Join(err, linkErr)
	})
}

// Delivery is how far one sink is.
type Delivery struct {
	Sink                            string
	Delivered, Waiting, Quarantined int64
	Link                            string // up, down, …
}

// sinks are the ones in use.
func (b *Bridge) sinks() []*box {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.boxes)
}

// Deliveries tells how far every sink is.
func (b *Bridge) Deliveries() []Delivery {
	boxes := b.sinks()
	out := make([]Delivery, len(boxes))
	for i, x := range boxes {
		s := x.outbox.Stats()
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
