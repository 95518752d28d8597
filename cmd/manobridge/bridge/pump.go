package bridge

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/publish/journal"
)

// group bounds how many readings one hand-over to the journal takes.
const group = 500

// counts are the loop's figures, read by others while it runs.
type counts struct{ readings, good, uncertain, bad atomic.Uint64 }

// Counts is how many results the loop made, by status.
type Counts struct{ Readings, Good, Uncertain, Bad uint64 }

// Counts gives the figures so far.
func (b *Bridge) Counts() Counts {
	return Counts{b.counts.readings.Load(), b.counts.good.Load(), b.counts.uncertain.Load(), b.counts.bad.Load()}
}

// pulse tells whether the loop goes round.
type pulse struct{ last atomic.Int64 }

// pump takes what the ports hand over until items is closed: converts it, and makes it durable in groups, each as large
// as what came in while the one before was being committed.
func (b *Bridge) pump(items <-chan ingest.Item) error {
	defer close(b.hand.ended)
	ctx := context.Background() // what was read is kept, also when the bridge is asked to stop
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	results := make([]convert.Result, 0, group)
	for {
		b.pulse.last.Store(int64(b.clock.SinceStart()))
		var first ingest.Item
		var open bool
		select {
		case <-tick.C:
			b.hand.recall(b.o.Log, b.clock.SinceStart())
			b.tickCondition(ctx)
			b.tellAilments()
			continue
		case asked := <-b.condition.asks:
			asked()
			continue
		case asked := <-b.hand.asks:
			asked()
			continue
		case first, open = <-items:
			if !open {
				return nil
			}
		}
		results = results[:0]
		if err := b.take(ctx, &first, &results); err != nil {
			return err
		}
	more:
		for len(results) < group {
			select {
			case it, ok := <-items:
				if !ok {
					break more
				}
				if err := b.take(ctx, &it, &results); err != nil {
					return err
				}
			default:
				break more
			}
		}
		if err := b.keep(ctx, results); err != nil {
			return err
		}
	}
}

// take converts a reading, or records an event of a port.
func (b *Bridge) take(ctx context.Context, it *ingest.Item, results *[]convert.Result) error {
	if it.Event == &b.live.barrier {
		(<-b.live.turns)()
		return nil
	}
	if it.Event != nil {
		return b.portEvent(ctx, it.Event)
	}
	in := b.instruments[it.Reading.Instrument]
	if in == nil {
		if station, err := b.heard(ctx, &it.Reading, results); station {
			return err
		}
		return fmt.Errorf("a port handed over a reading of %q, which is not configured", it.Reading.Instrument)
	}
	note := in.signals.work(&it.Reading)
	old := b.join(in, &it.Reading)
	res := in.converter.Convert(it.Reading)
	mark(&res, note)
	markOld(&res, old)
	b.watch.mark(&res)
	b.inspect(&res)
	b.hand.mark(&res)
	b.counts.readings.Add(1)
	switch res.Status {
	case convert.Good:
		b.counts.good.Add(1)
	case convert.Uncertain:
		b.counts.uncertain.Add(1)
	default:
		b.counts.bad.Add(1)
	}
	b.hand.see(&res)
	if in.average != nil {
		res = in.average.Take(res) // after all that marks a reading, so that the average carries it
		b.markFound(&res)
	}
	if b.o.OnResult != nil {
		b.o.OnResult(&res)
	}
	if b.mqtt != nil && b.o.Play == nil { // what was played is no state of now
		b.mqtt.Observe(&res)
	}
	if err := b.gaps.see(ctx, &res); err != nil {
		return err
	}
	b.judge(ctx, &res)
	*results = append(*results, res)
	return nil
}

// keep makes results durable. What the journal holds in memory for a full disk is its own to keep and count.
func (b *Bridge) keep(ctx context.Context, results []convert.Result) error {
	err := b.journal.Append(ctx, results)
	var refused *journal.RefusedResult
	switch {
	case err == nil, errors.Is(err, journal.ErrHeld):
		return nil
	case errors.As(err, &refused):
		b.o.Log.Error("a result was not kept; a gap is recorded in its place; report this", "code", "result-refused", "reason", err.Error())
		return nil
	}
	return fmt.Errorf("journal: %w", err)
}

// portEvent records what happened to a port.
func (b *Bridge) portEvent(ctx context.Context, e *ingest.PortEvent) error {
	var err error
	if e.Kind == ingest.FramesRefused {
		err = b.journal.RecordPortRefusal(ctx, journal.PortRefusal{Run: e.Run, Port: e.Port, ReceivedAt: e.ReceivedAt,
			Cause: e.Refusal.Code, Frame: e.Frame, Note: e.Refusal.Error(), Count: int64(e.Count)})
	} else {
		note := e.Port
		if e.Refusal != nil {
			note += ": " + e.Refusal.Error()
		}
		if e.Lasted > 0 {
			note += fmt.Sprintf(" (lasted %.3f s)", e.Lasted.Seconds())
		}
		err = b.journal.RecordEvent(ctx, journal.Event{Run: e.Run, Time: e.ReceivedAt, SinceStart: e.SinceStart, Code: "port-" + string(e.Kind), Note: note})
	}
	return b.noted(err, "port", e.Port)
}

// clockEvent records what happened to the clock.
func (b *Bridge) clockEvent(e journal.Event) {
	e.Run = b.run
	_ = b.noted(b.journal.RecordEvent(context.Background(), e), "event", e.Code) // the loop meets a closed journal too
}

// noted lets the bridge go on where an event could not be recorded. On a full disk the journal holds it in memory.
func (b *Bridge) noted(err error, about ...any) error {
	switch {
	case errors.Is(err, journal.ErrHeld):
		return nil
	case err == nil, errors.Is(err, journal.ErrClosed):
		return err
	}
	b.o.Log.With("code", "event-not-recorded").With(about...).Warn("an event could not be recorded in the journal; readings are not touched", "reason", err.Error())
	return nil
}
