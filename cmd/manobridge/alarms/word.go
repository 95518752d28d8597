package alarms

import (
	"encoding/json"
	"fmt"
	"math"

	"manobridge/convert/alarm"
	"manobridge/publish"
)

// of is what every message says of the limit.
func (k *Keeper) about(w *one) publish.AlarmOf {
	o := publish.AlarmOf{Limit: w.c.Name, Bridge: k.o.Bridge, Run: k.o.Run, Instruments: w.c.Instruments(),
		Priority: w.c.Priority, Class: w.c.Class, Group: w.c.Group, Response: w.c.Response}
	if r := w.c.Reference; r != nil {
		o.Document, o.Version = r.Document, r.Version
	}
	return o
}

func (w *one) judged() publish.Judged {
	j := publish.Judged{Bound: publish.Bound{Rate: w.rate != nil, Low: bounded(w.bounds.Low), High: bounded(w.bounds.High)}, Verdict: string(w.verdict)}
	if w.last.Known() {
		v, u := w.last.V, w.last.U
		j.Value, j.U = &v, &u
	}
	return j
}

func bounded(v float64) *float64 {
	if math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// show puts the word on a limit on the board.
func (k *Keeper) show(w *one, now Now) {
	w.shown, w.told = now.Mono, w.verdict
	m := w.alarm.Memory()
	hour, day := w.crossings.Outside(max(now.Mono, w.seen))
	w.word = publish.AlarmState{
		AlarmOf: k.about(w), Time: now.Wall, Judged: w.judged(), Decision: w.c.Decision,
		State: string(w.alarm.State()), Since: w.since[0], Occurrence: m.Occurrence, Raised: w.raised, First: w.wasFirst,
		Fault: string(w.fault.State()), FaultSince: w.since[1], Why: w.why,
		Door: w.doorWord(), HeldOpen: w.heldOpen(), ShelvedLeft: m.ShelvedLeft, OutsideLastHour: hour, OutsideLastDay: day, ValidFor: k.o.ValidFor,
	}.JSON()
	k.o.Board.AlarmState(w.c.Name, w.word)
}

// Words gives how every limit stands, in the order of the configuration, as it was told last.
func (k *Keeper) Words() []json.RawMessage {
	out := make([]json.RawMessage, len(k.ones))
	for i, w := range k.ones {
		out[i] = w.word
	}
	return out
}

// event makes the message of a transition.
func (k *Keeper) event(w *one, which string, t alarm.Transition, h heard, now Now) publish.AlarmEvent {
	e := publish.AlarmEvent{
		AlarmOf: k.about(w), ID: fmt.Sprintf("%s/%s/%d", k.o.Run, w.c.Name, w.sequence), Sequence: w.sequence, Alarm: which,
		Time: now.Wall, Sent: now.Wall, Judged: w.judged(), State: string(t.To), Previous: string(t.From), Cause: string(t.Cause),
		Occurrence: t.Occurrence, Annunciated: t.Annunciated, Raised: w.raised, Causes: w.causes, First: w.wasFirst,
		By: h.by, Why: h.why,
	}
	if which == "fault" {
		e.Class, e.Response = "measuring-fault", w.c.Fault.Response
		if w.c.Fault.Priority != "" {
			e.Priority = w.c.Fault.Priority
		}
		e.Raised = w.since[1]
	}
	if which == "door" {
		e.Class, e.Response, e.Raised = "door", w.c.Door.Response, w.since[2]
		e.Judged, e.Causes = publish.Judged{Bound: e.Bound, Verdict: string(alarm.CannotTell)}, nil // it says nothing of the pressure
	}
	if w.why != "" && len(e.Causes) == 0 {
		e.Causes = []string{w.why}
	}
	return e
}
