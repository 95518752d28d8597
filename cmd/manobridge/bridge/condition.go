package bridge

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/diagnose"
)

// condition is what is known beyond one reading: what diagnosis finds of each instrument, and how the limits stand. Only the
// loop touches it.
type condition struct {
	watches map[string]*inspected
	keeper  *alarms.Keeper // nil where there are no limits, and while a recording is played
	asks    chan func()    // from the broker
	kept    time.Duration
	// anchored is the number of the latest act that the log has.
	anchored atomic.Int64

	mu   sync.Mutex
	sent []string // transitions the broker has acknowledged since the last tick
}

// inspected is one instrument under diagnosis.
type inspected struct {
	watch *diagnose.Watch
	found []diagnose.Finding
	said  []convert.Cause
}

// diagnosisEvery is how often what was learned of an instrument is kept.
const diagnosisEvery = 15 * time.Minute

func diagnosisName(instrument string) string { return "diagnosis/" + instrument }

// openCondition takes up what was kept of instruments and limits. Of a recording nothing is judged: it is not now.
func (b *Bridge) openCondition(ctx context.Context, c *configs.Config) error {
	x := &b.condition
	x.watches = map[string]*inspected{}
	if x.asks == nil {
		x.asks = make(chan func(), 64)
	}
	if b.o.Play != nil {
		return nil
	}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if in.Offline {
			continue
		}
		w, err := b.watchOf(ctx, in)
		if err != nil {
			return fmt.Errorf("instrument %s: diagnosis: %w", in.Name, err)
		}
		x.watches[in.Name] = &inspected{watch: w}
	}
	if err := b.noteConfig(ctx, c, "the bridge was started, or asked to take it up"); err != nil {
		return err
	}
	if err := b.showAnchor(ctx); err != nil {
		return err
	}
	return b.openLimits(ctx, c)
}

func (b *Bridge) watchOf(ctx context.Context, in *configs.Instrument) (*diagnose.Watch, error) {
	var m diagnose.Memory
	k, found, err := b.journal.Kept(ctx, diagnosisName(in.Name))
	if err != nil {
		return nil, err
	}
	if found {
		if err := json.Unmarshal(k.Value, &m); err != nil {
			b.o.Log.Warn("what was learned of an instrument cannot be read; it is learned anew", "code", "diagnosis-forgotten", "instrument", in.Name, "error", err)
			m = diagnose.Memory{}
		}
	}
	d := &in.Diagnosis
	o := diagnose.Options{PulsationPa: d.PulsationPa, SoakKPerH: d.SoakKPerH, LevelWithin: d.LevelWithinDeg * math.Pi / 180,
		CalibrationDue: d.Due(), Settle: d.Settle.Std()}
	if in.RangePa != nil {
		o.Range = convert.Some(convert.Span{Low: in.RangePa[0], High: in.RangePa[1]})
	}
	o.ZeroTilt = zeroTilt(in)
	name := in.Name
	if high, low, _ := b.instruments[name].converter.Reads(); high && low {
		o.Balance = func(r *convert.Result) (convert.Balance, bool) { return b.instruments[name].converter.Balance(r) }
	}
	return diagnose.New(o, m)
}

// zeroTilt is the tilt at the zero of an instrument, rad.
func zeroTilt(in *configs.Instrument) float64 {
	deg := in.TiltDeg
	if in.Zero != nil && in.Zero.TiltDeg != nil {
		deg = in.Zero.TiltDeg
	}
	if deg == nil {
		return 0
	}
	return *deg * math.Pi / 180
}

// inspect looks at the result of one reading and marks what diagnosis finds.
func (b *Bridge) inspect(r *convert.Result) {
	x := b.condition.watches[r.Instrument]
	if x == nil {
		return
	}
	x.found = x.watch.See(r)
	b.markFound(r)
	x.say(b, r)
}

// markFound marks what is found of the instrument now; an average takes it from its last reading.
func (b *Bridge) markFound(r *convert.Result) {
	x := b.condition.watches[r.Instrument]
	if x == nil {
		return
	}
	for _, f := range x.found {
		if !slices.Contains(r.Causes, f.Code) {
			r.Mark(f.Refusal())
		}
	}
}

// judge gives a result to the limits that are about it.
func (b *Bridge) judge(ctx context.Context, r *convert.Result) {
	if b.condition.keeper != nil {
		b.condition.keeper.See(ctx, r, b.moment())
	}
}

// say tells what is found and what is found no more.
func (x *inspected) say(b *Bridge, r *convert.Result) {
	if len(x.found) == 0 && len(x.said) == 0 {
		return
	}
	now := make([]convert.Cause, len(x.found))
	for i, f := range x.found {
		now[i] = f.Code
		if !slices.Contains(x.said, f.Code) {
			b.o.Log.Warn("the instrument is not as it should be: "+f.Seen+"; "+f.Do, "code", f.Code, "instrument", r.Instrument, "seq", r.Seq)
			_ = b.noted(b.journal.RecordEvent(context.Background(), b.found(string(f.Code), r, f.Seen)), "event", f.Code)
		}
	}
	for _, code := range x.said {
		if !slices.Contains(now, code) {
			b.o.Log.Info("the instrument is as it should be again", "code", code, "instrument", r.Instrument, "seq", r.Seq)
			_ = b.noted(b.journal.RecordEvent(context.Background(), b.found(string(code)+"-gone", r, "")), "event", code)
		}
	}
	x.said = now
}

// tickCondition lets time pass for what waits for no reading.
func (b *Bridge) tickCondition(ctx context.Context) {
	now := b.clock.SinceStart()
	b.condition.mu.Lock()
	sent := b.condition.sent
	b.condition.sent = nil
	b.condition.mu.Unlock()
	if k := b.condition.keeper; k != nil {
		for _, id := range sent {
			k.Sent(id)
		}
		k.Tick(ctx, b.moment())
	}
	if now-b.condition.kept >= diagnosisEvery {
		b.condition.kept = now
		_ = b.noted(b.keepDiagnosis(ctx), "event", "diagnosis")
	}
}

// eventSent notes that a transition has reached the broker. Anybody may call it.
func (b *Bridge) eventSent(id string) {
	b.condition.mu.Lock()
	b.condition.sent = append(b.condition.sent, id)
	b.condition.mu.Unlock()
}

// moment is now on both clocks.
func (b *Bridge) moment() alarms.Now {
	return alarms.Now{Wall: b.clock.Now(), Mono: b.clock.SinceStart()}
}

// keepDiagnosis keeps what was learned of every instrument.
func (b *Bridge) keepDiagnosis(ctx context.Context) error {
	all := map[string][]byte{}
	for name, x := range b.condition.watches {
		text, err := json.Marshal(x.watch.Memory())
		if err != nil {
			return err
		}
		all[diagnosisName(name)] = text
	}
	if len(all) == 0 {
		return nil
	}
	return b.journal.KeepAll(ctx, all)
}

// reopenCondition takes up a new configuration. An instrument that did not change is known as before.
func (b *Bridge) reopenCondition(ctx context.Context, was, c *configs.Config) error {
	if err := b.keepDiagnosis(ctx); err != nil {
		return err
	}
	if b.condition.keeper != nil {
		if err := b.condition.keeper.Stop(ctx, b.moment()); err != nil {
			return err
		}
	}
	old := b.condition.watches
	if err := b.openCondition(ctx, c); err != nil {
		return err
	}
	for name, x := range b.condition.watches {
		if before := old[name]; before != nil {
			x.found, x.said = before.found, before.said
		}
	}
	for _, l := range was.Limits {
		if !slices.ContainsFunc(c.Limits, func(n configs.Limit) bool { return n.Name == l.Name }) {
			limitBoard{b}.AlarmState(l.Name, nil) // takes the retained word away
		}
	}
	return nil
}

// closeCondition keeps what was learned and how the limits stand.
func (b *Bridge) closeCondition(ctx context.Context) error {
	err := b.keepDiagnosis(ctx)
	if b.condition.keeper != nil {
		err = errors.Join(err, b.condition.keeper.Stop(ctx, b.moment()))
	}
	return err
}

// converterReplaced tells that an instrument has another converter as its zero was taken; in is the instrument with it.
func (b *Bridge) converterReplaced(in *configs.Instrument) {
	if x := b.condition.watches[in.Name]; x != nil {
		x.watch.Zeroed(zeroTilt(in))
	}
	if b.condition.keeper != nil {
		b.condition.keeper.Replaced(in.Name)
	}
}
