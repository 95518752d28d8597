package alarms

import (
	"fmt"
	"math"
	"slices"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
	"manobridge/convert/quantity"
	"manobridge/publish"
)

// proof is a test of one limit from a value to the subscriber: a made-up value, beyond the bound, goes through bounds,
// decision and delays of its own, and what comes of it is told as an event marked as simulated. The limit itself goes on as
// it is.
type proof struct {
	w     *one
	alarm *alarm.Alarm
	value alarm.Value
	id    string
	by    string
	why   string
	until time.Duration
}

// Proof is a proof test that has begun.
type Proof struct {
	ID       string        // of the event that will come
	Value    float64       // made up, in Pa or Pa/s
	Expected time.Duration // after which it comes: the on-delay and the second of the clock that drives it
}

// proofsAtOnce bounds them.
const proofsAtOnce = 16

// Prove begins a proof test.
func (k *Keeper) Prove(limit, user, why string, now Now) (Proof, error) {
	w := k.named[limit]
	switch {
	case w == nil:
		return Proof{}, &alarm.Refused{Code: "no-such-limit", Text: fmt.Sprintf("there is no limit %.64q", limit)}
	case slices.ContainsFunc(k.proofs, func(p *proof) bool { return p.w == w }):
		return Proof{}, &alarm.Refused{Code: "busy", Text: limit + " is being proved already"}
	case len(k.proofs) >= proofsAtOnce:
		return Proof{}, &alarm.Refused{Code: "busy", Text: fmt.Sprintf("%d limits are being proved already", len(k.proofs))}
	}
	a, err := alarm.New(alarm.Options{Name: limit, OnDelay: delay(w.c.OnDelay)}, alarm.Memory{}, now.Mono)
	if err != nil {
		return Proof{}, err
	}
	v := simulated(w.c, w.bounds)
	wait := delay(w.c.OnDelay) + time.Second
	p := &proof{w: w, alarm: a, value: v, id: fmt.Sprintf("%s/%s/proof-%d", k.o.Run, limit, now.Wall.UnixNano()), by: user, why: why, until: now.Mono + wait + time.Minute}
	k.proofs = append(k.proofs, p)
	return Proof{ID: p.id, Value: v.V, Expected: wait}, nil
}

// simulated makes a value that every decision finds beyond the bound. For a pressure it goes through a result, as a measured
// one does.
func simulated(c *configs.Limit, l alarm.Limits) alarm.Value {
	bound, sign := l.High, 1.0
	if math.IsInf(bound, 1) {
		bound, sign = l.Low, -1
	}
	u := math.Max(math.Abs(bound)*0.01, 1e-3)
	v := bound + sign*(3*u+2*l.Deadband)
	if c.Rate != nil {
		return alarm.Value{V: v, U: u}
	}
	r := convert.Result{Reading: convert.Reading{Name: convert.Name{Instrument: c.Instruments()[0]}}, Kind: convert.DifferentialValue,
		Differential: quantity.DifferentialPressure(v), ExpandedU: u, CombinedU: u / 2, CoverageFactor: 2}
	r.Mark(&convert.Refusal{Code: convert.Simulated, Field: "value", Seen: "made up for a proof test"})
	return alarm.Of(&r)
}

// stepProofs gives every proof its value again.
func (k *Keeper) stepProofs(now Now) {
	k.proofs = slices.DeleteFunc(k.proofs, func(p *proof) bool {
		v := p.value
		v.At = now.Mono
		happened := p.alarm.Evaluate(now.Mono, p.w.bounds.Condition(v.V, v.U, alarm.Absent))
		if len(happened) > 0 {
			k.tellProof(p, happened[0], v, now)
			return true
		}
		return now.Mono > p.until
	})
}

// tellProof tells the event that a proof test was for.
func (k *Keeper) tellProof(p *proof, t alarm.Transition, v alarm.Value, now Now) {
	e := publish.AlarmEvent{AlarmOf: k.about(p.w), ID: p.id, Alarm: "limit", Time: now.Wall, Sent: now.Wall,
		Judged: publish.Judged{Bound: publish.Bound{Rate: p.w.rate != nil, Low: bounded(p.w.bounds.Low), High: bounded(p.w.bounds.High)},
			Value: &v.V, U: &v.U, Verdict: string(p.w.bounds.Judge(v.V, v.U))},
		State: string(t.To), Previous: string(t.From), Cause: string(t.Cause), Occurrence: t.Occurrence, Raised: now.Wall,
		Causes: []string{string(convert.Simulated)}, By: p.by, Why: p.why, Simulated: true}
	k.o.Log.Info("a simulated alarm is told, for a proof test", "code", "proof-test", "limit", p.w.c.Name, "id", p.id, "by", p.by, "why", p.why)
	if k.o.Record != nil {
		k.o.Record(e)
	}
	k.o.Board.AlarmEvent(e)
}
