package bridge

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/publish/journal"
)

// ErrNeedsRestart is wrapped by the error of a Reload that changes keys which only a new start can apply.
var ErrNeedsRestart = errors.New("needs a restart")

// Reload applies a configuration while the bridge runs. All that can fail is built before anything is changed; where it
// fails the error says why, and the bridge goes on as it was. Ports and sinks whose settings did not change are not touched,
// also where instruments at them change. It may take as long as a sink that is replaced has to drain.
func (b *Bridge) Reload(ctx context.Context, c *configs.Config) error {
	b.live.reloading.Lock()
	defer b.live.reloading.Unlock()
	switch {
	case !b.live.running:
		return errEnding
	case b.o.Play != nil:
		return errors.New("a recording is played with the configuration it began with")
	}
	if full := b.journal.Stats().Full; full != nil { // coefficients and states of limits could not be kept
		return fmt.Errorf("the journal cannot be written: %w", full)
	}
	with, _, err := b.withZeros(ctx, c)
	if err != nil {
		return fmt.Errorf("configuration: %w", err)
	}
	next, err := b.plan(ctx, with)
	if err != nil {
		return err
	}
	if err := b.apply(ctx, next); err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.file = c
	return nil
}

// plan is a configuration with everything built that it needs, and nothing changed yet.
type plan struct {
	config      *configs.Config
	instruments map[string]*instrument
	lines       []*line // those that stay are the running ones
	boxes       []*box  // as lines
	running     map[string]running
	gone        []string // instruments that are taken out
	said        []string
}

// running is an instrument of the loop as it was when the plan was made.
type running struct {
	*instrument
	hash string
}

// runningInstruments asks the loop, which they belong to.
func (b *Bridge) runningInstruments() (map[string]running, error) {
	list := map[string]running{}
	err := b.turn(func() {
		for name, in := range b.instruments {
			if !in.gone {
				list[name] = running{in, in.set.Hash}
			}
		}
	})
	return list, err
}

func (b *Bridge) plan(ctx context.Context, c *configs.Config) (_ *plan, err error) {
	old := b.o.Config
	if keys := restartKeys(old, c); len(keys) > 0 {
		return nil, fmt.Errorf("%s: a change of it %w of the bridge", strings.Join(keys, ", "), ErrNeedsRestart)
	}
	p := &plan{config: c, instruments: map[string]*instrument{}}
	if p.running, err = b.runningInstruments(); err != nil {
		return nil, err
	}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if p.instruments[in.Name], err = p.keptInstrument(old, in); err != nil {
			return nil, fmt.Errorf("configuration: %w", err)
		}
	}
	if err := b.planLines(p); err != nil {
		return nil, err
	}
	if err := b.planBoxes(p); err != nil {
		return nil, err
	}
	for name, in := range p.instruments {
		if p.running[name].instrument == in {
			continue
		}
		if err := b.journal.AddCoefficientSet(ctx, journal.CoefficientSet{Hash: in.set.Hash, Instrument: name, Text: in.set.Text}); err != nil {
			return nil, errors.Join(fmt.Errorf("keep the coefficients of %s: %w", name, err), b.drop(p))
		}
	}
	p.compare(b)
	return p, nil
}

// restartKeys names what changed and cannot be applied to a bridge that runs.
func restartKeys(old, now *configs.Config) (keys []string) {
	for _, k := range []struct {
		key      string
		old, now any
	}{
		{"site", old.Site, now.Site}, {"bridge", old.Bridge, now.Bridge},
		{"journal", old.Journal, now.Journal}, {"run", old.Run, now.Run},
		{"operate", old.Operate, now.Operate},
	} {
		if !reflect.DeepEqual(k.old, k.now) {
			keys = append(keys, k.key)
		}
	}
	return keys
}

// keptInstrument gives the running instrument where nothing about it changed, with all that it remembers, else a new one.
func (p *plan) keptInstrument(old *configs.Config, in *configs.Instrument) (*instrument, error) {
	i := slices.IndexFunc(old.Instruments, func(o configs.Instrument) bool { return o.Name == in.Name })
	if was, ok := p.running[in.Name]; ok && i >= 0 && reflect.DeepEqual(old.Instruments[i], *in) {
		set, err := assemble.CoefficientSet(p.config, in)
		if err != nil {
			return nil, err
		}
		if set.Hash == was.hash && newChannels(p.config, in).rules == was.instrument.channels.rules {
			return was.instrument, nil
		}
	}
	return newInstrument(p.config, in)
}

// planLines builds the ports that are new or changed.
func (b *Bridge) planLines(p *plan) error {
	for i := range p.config.Ports {
		l := newLine(p.config, &p.config.Ports[i])
		if len(l.at) == 0 {
			continue
		}
		if same := slices.IndexFunc(b.lines, l.sameAs); same >= 0 {
			p.lines = append(p.lines, b.lines[same])
			continue
		}
		if err := b.open(p.config, l); err != nil {
			return fmt.Errorf("port %s: %w", l.port.Name, err)
		}
		p.lines = append(p.lines, l)
	}
	return nil
}

// sameAs tells whether a running line can stay open for this one. Who is asked is part of how a port asks.
func (l *line) sameAs(o *line) bool {
	return reflect.DeepEqual(l.port, o.port) && l.unit == o.unit && (l.port.Ask == nil || reflect.DeepEqual(l.at, o.at) && reflect.DeepEqual(l.asked, o.asked))
}

// planBoxes builds the sinks that are new or changed, and checks those that stay.
func (b *Bridge) planBoxes(p *plan) error {
	was, is := b.o.Config.Publish, p.config.Publish
	sinks := []struct {
		name string
		same bool
		open func(*configs.Config, map[string]*instrument) (*box, error)
	}{
		{toBroker, reflect.DeepEqual(was.MQTT, is.MQTT), b.openBroker},
		{toStore, reflect.DeepEqual(was.Series, is.Series), b.openStore},
	}
	for _, s := range sinks {
		var x *box
		var err error
		if i := slices.IndexFunc(b.boxes, func(x *box) bool { return x.name == s.name }); i >= 0 && s.same {
			x = b.boxes[i]
			if x.mqtt != nil {
				o := b.mqttOptions(p.config, is.MQTT, p.instruments)
				err = x.mqtt.CheckInstruments(o.Instruments, o.About)
			}
		} else {
			x, err = s.open(p.config, p.instruments)
		}
		if err != nil {
			return errors.Join(err, b.drop(p))
		}
		if x != nil {
			p.boxes = append(p.boxes, x)
		}
	}
	return nil
}

// drop closes what was built for a plan that is not applied.
func (b *Bridge) drop(p *plan) (err error) {
	for _, x := range p.boxes {
		if !slices.Contains(b.boxes, x) {
			err = errors.Join(err, x.close())
		}
	}
	return err
}

// compare puts into words what the plan changes.
func (p *plan) compare(b *Bridge) {
	add := func(what, name string) { p.said = append(p.said, what+" "+name) }
	for _, in := range p.config.Instruments {
		switch was, known := p.running[in.Name]; {
		case !known:
			add("new instrument", in.Name)
		case was.instrument != p.instruments[in.Name]:
			add("changed instrument", in.Name)
		}
	}
	for name := range p.running {
		if p.instruments[name] == nil {
			p.gone = append(p.gone, name)
			add("instrument taken out", name)
		}
	}
	for _, l := range p.lines {
		if !slices.Contains(b.lines, l) {
			add("opened port", l.port.Name)
		}
	}
	for _, l := range b.lines {
		if !slices.Contains(p.lines, l) {
			add("closed port", l.port.Name)
		}
	}
	for _, x := range p.boxes {
		if !slices.Contains(b.boxes, x) {
			add("started delivery to", x.name)
		}
	}
	for _, x := range b.boxes {
		if !slices.Contains(p.boxes, x) {
			add("ended delivery to", x.name)
		}
	}
	slices.Sort(p.said)
	if len(p.said) == 0 {
		p.said = []string{"nothing that the bridge uses changed"}
	}
}

// numbers are those of the run so far, by instrument and by port.
type numbers struct{ readings, events map[string]uint64 }

func (n *numbers) keep(readings map[string]uint64) {
	for name, seq := range readings {
		n.readings[name] = max(n.readings[name], seq)
	}
}

// of gives what a port goes on after.
func (n *numbers) of(port string) ingest.Numbers {
	return ingest.Numbers{Readings: n.readings, Events: n.events[port]}
}
