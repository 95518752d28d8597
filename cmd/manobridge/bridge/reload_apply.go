package bridge

import (
	"context"
	"errors"
	"maps"
	"slices"
	"strings"

	"manobridge/publish/journal"
	"manobridge/publish/mqtt"
)

// apply replaces what changes. Nothing in it can fail but by the end of the bridge, which is told as errEnding. The order
// keeps every frame with the converter that was in use when it came: ports that change are closed and what they read is
// converted; the loop takes the new converters; ports that stay take the new instruments; new ports open.
func (b *Bridge) apply(ctx context.Context, p *plan) error {
	for _, l := range b.lines {
		if !slices.Contains(p.lines, l) {
			l.stop()
		}
	}
	for _, l := range b.lines {
		if slices.Contains(p.lines, l) {
			continue
		}
		<-l.done
		n := l.source.Numbers()
		b.live.numbers.keep(n.Readings)
		b.live.numbers.events[l.port.Name] = n.Events
		if err := b.noted(b.journal.RecordEvent(ctx, b.now("port-closed", l.port.Name+": its settings or instruments changed")), "port", l.port.Name); err != nil {
			return err
		}
	}
	var old *mqtt.Sink
	if err := b.turn(func() { old = b.mqtt; b.takeUp(p) }); err != nil {
		return err
	}
	if err := b.reassign(p); err != nil {
		return err
	}
	for _, l := range p.lines {
		if !slices.Contains(b.lines, l) {
			l.source.Continue(b.live.numbers.of(l.port.Name))
			b.start(l)
		}
	}
	// Behind everything that was read of the instruments that are gone.
	var failed error
	err := b.turn(func() {
		for _, name := range p.gone {
			failed = errors.Join(failed, b.gaps.remove(ctx, name, b.clock.Now()))
		}
		for _, sink := range slices.Compact([]*mqtt.Sink{old, b.mqtt}) {
			if sink != nil && p.config.Publish.MQTT != nil {
				o := b.mqttOptions(p.config, p.config.Publish.MQTT, p.instruments)
				sink.SetInstruments(o.Instruments, o.About)
			}
		}
	})
	if err := errors.Join(err, failed); err != nil {
		return err
	}
	b.replaceBoxes(p)
	b.mu.Lock()
	b.o.Config, b.lines, b.boxes = p.config, p.lines, p.boxes
	b.journal.Configure(keeping(p.config), sinkNames(p.config))
	b.mu.Unlock()
	said := strings.Join(p.said, ", ")
	b.o.Log.Info("a new configuration is in use: "+said, "code", "config-reloaded", "run", b.run)
	return b.noted(b.journal.RecordEvent(ctx, b.now("config-reloaded", said)))
}

// now is an event of this moment.
func (b *Bridge) now(code, note string) journal.Event {
	return journal.Event{Run: b.run, Time: b.clock.Now(), SinceStart: b.clock.SinceStart(), Code: code, Note: note}
}

// takeUp gives the loop the new instruments and the new connection. Those that are gone stay known for what of them is still
// on its way. What a changed one remembers of its own frames it keeps.
func (b *Bridge) takeUp(p *plan) {
	next := maps.Clone(p.instruments)
	for name := range next {
		if was := b.instruments[name]; was == nil || was.gone {
			b.gaps.expect(name, b.clock.Now())
		}
	}
	for name, was := range b.instruments {
		switch in := next[name]; {
		case in == nil:
			was.gone = true
			next[name] = was
		case in != was && !was.gone:
			in.channels.latest = was.channels.latest
		}
	}
	b.instruments = next
	b.mqtt = nil
	for _, x := range p.boxes {
		if x.mqtt != nil {
			b.mqtt = x.mqtt
		}
	}
	if err := b.reopenCondition(context.Background(), b.o.Config, p.config); err != nil {
		b.o.Log.Error("limits and diagnosis could not be taken up with the new configuration; restart the bridge", "code", "limit-not-kept", "error", err)
	}
}

// reassign gives the ports that stay their new instruments: first those that leave one are let go, so that their numbers go
// on at another.
func (b *Bridge) reassign(p *plan) error {
	ctx := b.live.ctx
	type change struct {
		*line
		at map[string]string
	}
	var changes []change
	for _, l := range p.lines {
		at := newLine(p.config, l.port).at
		if !slices.Contains(b.lines, l) || maps.Equal(at, l.at) {
			continue
		}
		changes = append(changes, change{l, at})
		stay := maps.Clone(l.at)
		names := slices.Collect(maps.Values(at))
		maps.DeleteFunc(stay, func(_, name string) bool { return !slices.Contains(names, name) })
		gone, err := l.source.Reassign(ctx, stay, nil)
		if err != nil {
			return errEnding
		}
		b.live.numbers.keep(gone)
	}
	for _, c := range changes {
		if _, err := c.source.Reassign(ctx, c.at, b.live.numbers.readings); err != nil {
			return errEnding
		}
		c.line.at = c.at
	}
	return nil
}

// replaceBoxes lets the sinks that change drain, and starts the new ones where they left off.
func (b *Bridge) replaceBoxes(p *plan) {
	for _, x := range b.boxes {
		if !slices.Contains(p.boxes, x) {
			x.stop()
		}
	}
	for _, x := range b.boxes {
		if slices.Contains(p.boxes, x) {
			continue
		}
		<-x.done
		if err := errors.Join(x.err, x.close()); err != nil {
			b.o.Log.Warn("a sink that was replaced did not end well; the new one goes on from what is kept of its cursor; rows may be delivered again",
				"code", "sink-replaced", "sink", x.name, "reason", err.Error())
		}
	}
	for _, x := range p.boxes {
		if slices.Contains(b.boxes, x) {
			continue
		}
		for _, was := range b.boxes {
			if x.mqtt != nil && was.mqtt != nil {
				x.mqtt.TakeOver(was.mqtt)
			}
		}
		b.send(x)
	}
}
