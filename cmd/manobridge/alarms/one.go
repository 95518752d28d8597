package alarms

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
	"manobridge/publish"
)

// one is one limit at work.
type one struct {
	c      *configs.Limit
	bounds alarm.Limits
	group  *group

	difference *alarm.Difference // nil for one instrument
	rate       *alarm.Rate       // nil where the pressure itself is bounded
	alarm      *alarm.Alarm
	fault      *alarm.Alarm // for the loss of the measurement
	crossings  *alarm.Crossings
	door       *door // nil where none is stated
	plant      *plant

	began     time.Duration // when this run took it up
	valued    bool          // whether it had any value, or the word that there is none, since then
	seen      time.Duration // latest moment it was told of
	last      alarm.Value
	lastWall  time.Time
	causes    []string // of the latest results
	condition alarm.Condition
	known     alarm.Condition // the latest that was not unknown: a deadband counts from it
	verdict   alarm.Verdict
	why       string

	heard []heard // since the last cycle

	// Kept over a restart.
	sequence uint64
	unsent   []publish.AlarmEvent // the oldest first
	raised   time.Time
	since    [3]time.Time // of the states of alarm, fault and door
	wasFirst bool

	excursion int64 // number of the latest one in the ledger; 0 where there is none
	latest    alarm.Excursion
	written   time.Duration // when it was looked at last, while it goes on
	shown     time.Duration
	told      alarm.Verdict // in what was shown
	word      []byte        // that was shown
	kept      time.Duration
	dirty     bool // something that must be kept has changed
	unkept    bool // it could not be, the last time
}

// heard is what the state machines did, and on whose account.
type heard struct {
	limit, fault []alarm.Transition
	door         []alarm.Transition // of the alarm for a door that is held open
	by, why      string
}

// excursionEvery is how often an excursion that goes on is brought up to date in the ledger.
const excursionEvery = 10 * time.Second

// excursionGap is the longest time between readings across which a value is taken to go straight.
const excursionGap = 5 * time.Minute

func (k *Keeper) newOne(ctx context.Context, c *configs.Limit, now Now) (*one, error) {
	b := c.Bounds()
	w := &one{c: c, bounds: alarm.Limits{Low: b.Low, High: b.High, Deadband: b.Deadband, Decision: alarm.Decision(c.Decision)},
		verdict: alarm.CannotTell, why: "nothing has been heard yet", began: now.Mono, seen: now.Mono,
		last: alarm.Value{At: now.Mono, V: math.NaN(), U: math.NaN()}}
	if err := w.bounds.Check(); err != nil {
		return nil, err
	}
	var err error
	if d := c.Difference; d != nil {
		w.difference, err = alarm.NewDifference(d.Of, d.Less, k.o.Converter(d.Of), k.o.Converter(d.Less), d.Within.Std())
		if err != nil {
			return nil, err
		}
	}
	if c.Rate != nil {
		if w.rate, err = alarm.NewRate(c.Rate.Over.Std()); err != nil {
			return nil, err
		}
	}
	was, err := k.takeUp(ctx, c.Name)
	if err != nil {
		return nil, err
	}
	w.sequence, w.raised, w.wasFirst, w.known = was.Sequence, was.Raised, was.First, was.Known
	w.unsent = was.Unsent
	w.since = [3]time.Time{was.Since, was.FaultSince, was.DoorSince}
	w.alarm, err = alarm.New(alarm.Options{Name: c.Name, OnDelay: delay(c.OnDelay), OffDelay: delay(c.OffDelay), Latch: c.Latch,
		AcknowledgeOnReturn: c.AcknowledgeOnReturn, ReAlarm: c.ReAlarm.Std(), ShelveCap: c.ShelveAtMost.Std()}, was.Alarm, now.Mono)
	if err != nil {
		return nil, err
	}
	// The loss of a measurement goes by itself when it is measured again; that somebody saw it is recorded.
	w.fault, err = alarm.New(alarm.Options{Name: c.Name, OnDelay: c.Fault.OnDelay.Std(), ShelveCap: c.ShelveAtMost.Std(),
		AcknowledgeOnReturn: true}, was.Fault, now.Mono)
	if err != nil {
		return nil, err
	}
	if c.Door != nil {
		if w.door, err = newDoor(c, was, now.Mono); err != nil {
			return nil, err
		}
	}
	if c.SuppressWhile != nil {
		w.plant = &plant{c: c.SuppressWhile}
	}
	w.heard = append(w.heard, heard{limit: w.suppress(now.Mono)})
	w.crossings = alarm.NewCrossings(w.bounds, excursionGap)
	if was.Excursion != 0 { // what happened while no bridge ran is not known
		err = k.o.Ledger.UpdateExcursion(ctx, was.Excursion, cutOff(was.Open, now.Wall))
	}
	return w, err
}

func delay(d *configs.Delay) time.Duration {
	if d == nil {
		return 0
	}
	return d.Time.Std()
}

// cutOff ends an excursion that was open when an earlier run ended.
func cutOff(e alarm.Excursion, now time.Time) alarm.Excursion {
	e.Open, e.End = false, now
	if e.Comment != "" {
		e.Comment += "; "
	}
	e.Comment += "open when the bridge stopped; nothing is known from then until its next start"
	return e
}

// value turns a result into what the limit is held against; false where there is none yet.
func (w *one) value(r *convert.Result) (v alarm.Value, ok bool) {
	if w.difference != nil {
		v, ok = w.difference.Add(r)
	} else {
		v, ok = alarm.Of(r), true
	}
	if ok && w.rate != nil {
		v, ok = w.rate.Add(v)
	}
	return v, ok
}

// firstWithin is how long after a start the first value may take, beside twice the times stated for a pair and a rate: a
// choice, longer than nearly every average. Readings that never pair, or come too seldom for a rate, give none for ever.
const firstWithin = 15 * time.Minute

// overdue tells that a difference has lost its pair, once, and that there was none, and no rate, since the start.
func (w *one) overdue(now time.Duration) (alarm.Value, bool) {
	if !w.valued && (w.difference != nil || w.rate != nil) {
		var wait time.Duration
		var want []string
		if d := w.c.Difference; d != nil {
			wait, want = 2*d.Within.Std(), append(want, fmt.Sprintf("pair of %s and %s within %v", d.Of, d.Less, d.Within))
		}
		if r := w.c.Rate; r != nil {
			wait, want = wait+2*r.Over.Std(), append(want, fmt.Sprintf("rate over %v, which takes three values in that time", r.Over))
		}
		if now-w.began < max(wait, firstWithin) {
			return alarm.Value{}, false
		}
		return alarm.Value{At: now, V: math.NaN(), U: math.NaN(), Why: "since the start there was no " + strings.Join(want, ", or no ")}, true
	}
	if w.difference == nil || w.condition == alarm.Unknown || !w.difference.Overdue(now) {
		return alarm.Value{}, false
	}
	d := w.c.Difference
	v := alarm.Value{At: now, V: math.NaN(), U: math.NaN(), Why: fmt.Sprintf("no pair of %s and %s within %v", d.Of, d.Less, d.Within)}
	if w.rate != nil {
		w.rate.Add(v)
	}
	return v, true
}

// judge gives the limit a value.
func (k *Keeper) judge(ctx context.Context, w *one, v alarm.Value, causes []string, now Now) {
	w.seen, w.valued = max(w.seen, now.Mono), true
	w.last, w.lastWall, w.causes, w.why = v, now.Wall, causes, v.Why
	w.verdict = w.bounds.Judge(v.V, v.U)
	w.condition = w.bounds.Condition(v.V, v.U, w.known)
	if w.condition != alarm.Unknown {
		w.known = w.condition
	}
	lost := alarm.Absent
	if w.condition == alarm.Unknown {
		lost = alarm.Present
	}
	w.heard = append(w.heard, heard{limit: w.alarm.Evaluate(w.seen, w.condition), fault: w.fault.Evaluate(w.seen, lost)})
	k.account(ctx, w, v, now)
}

// account keeps the ledger of excursions.
func (k *Keeper) account(ctx context.Context, w *one, v alarm.Value, now Now) {
	e, changed := w.crossings.Add(v, alarm.Moment{Run: k.o.Run, Limit: w.c.Name, Wall: now.Wall, Door: w.doorSaid()})
	if e == nil || !changed {
		return
	}
	if w.excursion != 0 && w.latest.Open {
		w.write(ctx, k, *e)
		return
	}
	id, err := k.o.Ledger.BeginExcursion(ctx, *e)
	if err != nil {
		k.unkept(w, err)
		return
	}
	w.excursion, w.latest = id, *e
	w.dirty = true
}

// write brings the latest excursion in the ledger up to date. What its alarm did stays.
func (w *one) write(ctx context.Context, k *Keeper, e alarm.Excursion) {
	e.Alarmed, e.Acknowledged, e.By, e.Comment = w.latest.Alarmed, w.latest.Acknowledged, w.latest.By, w.latest.Comment
	w.latest, w.dirty = e, true
	if err := k.o.Ledger.UpdateExcursion(ctx, w.excursion, e); err != nil {
		k.unkept(w, err)
	}
}

// goesOn brings an excursion that goes on up to date.
func (w *one) goesOn(ctx context.Context, k *Keeper) {
	if e := w.crossings.Open(); e != nil && w.latest.Open && w.excursion != 0 && e.Lasted != w.latest.Lasted {
		w.write(ctx, k, *e)
	}
}

// unkept says once that the disk takes nothing; keep says when it does again.
func (k *Keeper) unkept(w *one, err error) {
	if w.unkept {
		return
	}
	w.unkept = true
	k.o.Log.Error("the state of a limit could not be kept; it works on, and a restart would find an older one; check the disk",
		"code", "limit-not-kept", "limit", w.c.Name, "error", err)
}

func causesOf(r *convert.Result) []string {
	out := make([]string, len(r.Causes))
	for i, c := range r.Causes {
		out[i] = string(c)
	}
	return out
}
