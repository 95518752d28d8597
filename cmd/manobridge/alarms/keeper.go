package alarms

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
	"manobridge/publish"
)

// Store keeps small states over a restart.
type Store interface {
	Keep(ctx context.Context, name string, value []byte) error
	Kept(ctx context.Context, name string) ([]byte, bool, error)
}

// Ledger keeps excursions: Begin gives the number that Update names.
type Ledger interface {
	BeginExcursion(ctx context.Context, e alarm.Excursion) (id int64, err error)
	UpdateExcursion(ctx context.Context, id int64, e alarm.Excursion) error
}

// Board is where the word goes. Neither method may block.
type Board interface {
	// AlarmState replaces the word on a limit.
	AlarmState(limit string, message []byte)
	// AlarmEvent hands over one transition, to be delivered at least once. It has been kept before.
	AlarmEvent(e publish.AlarmEvent)
}

// Options are what a Keeper is given. All but Log must be set.
type Options struct {
	Limits []configs.Limit
	// Converter gives that of an instrument.
	Converter func(instrument string) *convert.Converter
	Bridge    string
	Run       string
	Store     Store
	Ledger    Ledger
	Board     Board
	// Record, where set, gets every transition once, when it happens; Board gets what a restart left untold again.
	Record func(e publish.AlarmEvent)
	Log    *slog.Logger
	// ValidFor is how long a retained word holds without a new one.
	ValidFor time.Duration
}

// Now is one moment on both clocks.
type Now struct {
	Wall time.Time
	Mono time.Duration // since the start of the run
}

// Keeper holds the alarms. But for Sent it is not safe for concurrent use.
type Keeper struct {
	o       Options
	ones    []*one
	of      map[string][]*one // by instrument
	named   map[string]*one
	groups  map[string]*group
	replies replies

	proofs []*proof

	mu   sync.Mutex
	sent map[string]bool // events acknowledged since the last tick
}

// group is a first-out group with its members.
type group struct {
	alarm.Group
	members []*alarm.Alarm
	limits  []*one
}

// New makes the alarms of all limits and takes up the states that were kept.
func New(ctx context.Context, o Options, now Now) (*Keeper, error) {
	if o.Converter == nil || o.Store == nil || o.Ledger == nil || o.Board == nil || o.Bridge == "" || o.Run == "" {
		return nil, errors.New("alarms: a converter, store, ledger, board, bridge or run is missing")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.ValidFor <= 0 {
		o.ValidFor = 3 * time.Minute
	}
	k := &Keeper{o: o, of: map[string][]*one{}, named: map[string]*one{}, groups: map[string]*group{}, sent: map[string]bool{}}
	var err error
	if k.replies, err = takeUpReplies(ctx, o.Store); err != nil {
		return nil, err
	}
	for i := range o.Limits {
		w, err := k.newOne(ctx, &o.Limits[i], now)
		if err != nil {
			return nil, fmt.Errorf("limit %s: %w", o.Limits[i].Name, err)
		}
		k.ones = append(k.ones, w)
		k.named[w.c.Name] = w
		for _, in := range w.c.Instruments() {
			k.of[in] = append(k.of[in], w)
		}
	}
	for _, w := range k.ones {
		if w.c.Group == "" {
			continue
		}
		g := k.groups[w.c.Group]
		if g == nil {
			g = &group{}
			k.groups[w.c.Group] = g
		}
		g.limits, g.members = append(g.limits, w), append(g.members, w.alarm)
		w.group = g
	}
	for _, g := range k.groups {
		var first []string
		for _, w := range g.limits {
			if w.wasFirst {
				first = append(first, w.c.Name)
			}
		}
		g.Group = *alarm.NewGroup(first)
	}
	for _, w := range k.ones {
		for _, e := range w.unsent {
			o.Board.AlarmEvent(e)
		}
		k.show(w, now)
	}
	return k, nil
}

// Sent tells that a transition has reached the broker.
func (k *Keeper) Sent(id string) {
	k.mu.Lock()
	k.sent[id] = true
	k.mu.Unlock()
}

// settle forgets the transitions that were sent.
func (k *Keeper) settle() {
	k.mu.Lock()
	sent := k.sent
	k.sent = map[string]bool{}
	k.mu.Unlock()
	if len(sent) == 0 {
		return
	}
	for _, w := range k.ones {
		n := len(w.unsent)
		w.unsent = slices.DeleteFunc(w.unsent, func(e publish.AlarmEvent) bool { return sent[e.ID] })
		w.dirty = w.dirty || len(w.unsent) != n
	}
}

// See takes a result, its marks made. A sample of an average is none.
func (k *Keeper) See(ctx context.Context, r *convert.Result, now Now) {
	k.Hear(ctx, &r.Reading, now)
	if r.Sample {
		return
	}
	touched := k.of[r.Instrument]
	for _, w := range touched {
		if v, ok := w.value(r); ok {
			k.judge(ctx, w, v, causesOf(r), Now{Wall: r.ReceivedAt, Mono: max(r.SinceStart, w.seen)})
		}
	}
	k.cycle(ctx, touched, now)
}

// Tick lets time pass. Call it about once a second.
func (k *Keeper) Tick(ctx context.Context, now Now) {
	k.settle()
	for _, w := range k.ones {
		if v, lost := w.overdue(now.Mono); lost {
			k.judge(ctx, w, v, nil, now)
		}
		w.heard = append(w.heard, heard{limit: w.alarm.Tick(max(now.Mono, w.seen)), fault: w.fault.Tick(max(now.Mono, w.seen))}, w.tickDoor(max(now.Mono, w.seen)))
		w.seen = max(now.Mono, w.seen)
	}
	k.cycle(ctx, k.ones, now)
	k.stepProofs(now)
	for _, w := range k.ones {
		if now.Mono-w.written >= excursionEvery {
			w.goesOn(ctx, k)
			w.written = now.Mono
		}
		if now.Mono-w.shown >= k.o.ValidFor/3 {
			k.show(w, now)
		}
		k.keepNow(ctx, w, now, w.dirty)
	}
}

// Replaced tells that an instrument has another converter, as after a new zero.
func (k *Keeper) Replaced(instrument string) {
	for _, w := range k.of[instrument] {
		if w.difference != nil {
			d := w.c.Difference
			w.difference.Replace(k.o.Converter(d.Of), k.o.Converter(d.Less))
		}
		if w.rate != nil {
			w.rate.Restart()
		}
	}
}

// Stop keeps every state and says that nobody watches any more.
func (k *Keeper) Stop(ctx context.Context, now Now) error {
	var errs []error
	for _, w := range k.ones {
		w.goesOn(ctx, k)
		errs = append(errs, k.keep(ctx, w, now))
		w.why = "the bridge was asked to stop; the limit is not watched"
		k.show(w, now)
	}
	return errors.Join(errs...)
}
