package alarms

import (
	"context"
	"slices"
	"time"

	"manobridge/convert/alarm"
)

// mostUnsent bounds the transitions of one limit that are kept for a broker that is away.
const mostUnsent = 200

// verdictEvery bounds how often a new verdict alone is told: close to a bound it changes with every reading.
const verdictEvery = time.Second

// cycle ends one evaluation: it marks who was first, tells of every transition, and keeps what has changed before it is told.
func (k *Keeper) cycle(ctx context.Context, touched []*one, now Now) {
	var groups []*group
	for _, w := range touched {
		if w.group != nil && !slices.Contains(groups, w.group) {
			groups = append(groups, w.group)
		}
	}
	for _, g := range groups {
		var happened []alarm.Transition
		for _, w := range g.limits {
			for _, h := range w.heard {
				happened = append(happened, h.limit...)
			}
		}
		if g.Cycle(happened, g.members) {
			for _, w := range g.limits {
				if first := slices.Contains(g.First(), w.c.Name); first != w.wasFirst {
					w.wasFirst, w.dirty = first, true
				}
			}
		}
	}
	for _, w := range touched {
		k.tell(ctx, w, now)
	}
}

// tell makes an event of each transition of a limit.
func (k *Keeper) tell(ctx context.Context, w *one, now Now) {
	var events []func()
	for _, h := range w.heard {
		for _, t := range h.limit {
			events = append(events, k.transition(ctx, w, "limit", t, h, now))
		}
		for _, t := range h.fault {
			events = append(events, k.transition(ctx, w, "fault", t, h, now))
		}
		for _, t := range h.door {
			events = append(events, k.transition(ctx, w, "door", t, h, now))
		}
	}
	w.heard = w.heard[:0]
	if len(events) == 0 && !w.dirty {
		if w.verdict != w.told && now.Mono-w.shown >= verdictEvery {
			k.show(w, now)
		}
		return
	}
	k.keepNow(ctx, w, now, true)
	for _, say := range events {
		say()
	}
	k.show(w, now)
}

// transition notes a transition, and gives what tells of it once the state has been kept.
func (k *Keeper) transition(ctx context.Context, w *one, which string, t alarm.Transition, h heard, now Now) func() {
	i := 0
	switch which {
	case "fault":
		i = 1
	case "door":
		i = 2
	}
	if t.From != t.To {
		w.since[i] = now.Wall
	}
	if i == 0 && t.Occurrence > 0 && t.UnderTo == alarm.Unacknowledged && t.UnderFrom != alarm.Unacknowledged && t.Cause == alarm.ByCondition {
		w.raised = now.Wall
		if w.latest.Open && w.latest.Alarmed.IsZero() {
			w.latest.Alarmed = now.Wall
			w.write(ctx, k, w.latest)
		}
	}
	if i == 0 && t.Cause == alarm.ByAck && !w.latest.Alarmed.IsZero() && w.latest.Acknowledged.IsZero() {
		w.latest.Acknowledged, w.latest.By = now.Wall, h.by
		w.write(ctx, k, w.latest)
	}
	w.sequence++
	w.dirty = true
	e := k.event(w, which, t, h, now)
	if w.unsent = append(w.unsent, e); len(w.unsent) > mostUnsent {
		w.unsent = w.unsent[len(w.unsent)-mostUnsent:]
	}
	return func() {
		k.log(w, which, t, h)
		if k.o.Record != nil {
			k.o.Record(e)
		}
		k.o.Board.AlarmEvent(e)
	}
}

// log says a transition in words. A call for a person is an error in the sense of the log: somebody must act.
func (k *Keeper) log(w *one, which string, t alarm.Transition, h heard) {
	code := "alarm-changed"
	switch {
	case t.Annunciated && which == "fault":
		code = "limit-unwatched"
	case t.Annunciated:
		code = "alarm-raised"
	}
	about := []any{"code", code, "limit", w.c.Name, "alarm", which, "state", string(t.To), "previous", string(t.From), "cause", string(t.Cause)}
	if t.Cause == alarm.ByCondition && w.last.Known() {
		unit := "_pa"
		if w.rate != nil {
			unit = "_pa_s"
		}
		about = append(about, "value"+unit, w.last.V, "expanded_uncertainty"+unit, w.last.U, "verdict", string(w.verdict))
	}
	if h.by != "" {
		about = append(about, "by", h.by, "why", h.why)
	}
	switch {
	case t.Annunciated && which == "door":
		k.o.Log.Error("a door is held open: "+w.c.Door.Response, about...)
	case t.Annunciated && which == "fault":
		k.o.Log.Error("a limit is not watched: "+w.why+"; "+w.c.Fault.Response, about...)
	case t.Annunciated:
		k.o.Log.Error("alarm: "+w.c.Response, about...)
	default:
		k.o.Log.Info("alarm changed", about...)
	}
}
