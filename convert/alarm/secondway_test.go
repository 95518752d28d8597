package alarm_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert/alarm"
	"manobridge/convert/alarm/secondway"
)

// TestSecondWay drives the state machine and the timing chart with the same random histories, and compares how the alarm
// stands after every entry. MANOBRIDGE_LONG=1 takes many more of them.
func TestSecondWay(t *testing.T) {
	count := uint64(600)
	if testing.Short() {
		count /= 10
	}
	if os.Getenv("MANOBRIDGE_LONG") != "" {
		count *= 100
	}
	for seed := range count {
		rng := rand.New(rand.NewPCG(seed, 1))
		rules := randomRules(rng)
		h := randomHistory(rng, rules)
		punctual := seed%4 != 0
		if difference(rules, h, punctual) == "" {
			continue
		}
		h = shortest(rules, h, punctual)
		t.Fatalf("seed %d, looked at in time %v: %s\nrules %+v\n%s",
			seed, punctual, difference(rules, h, punctual), rules, told(h))
	}
	t.Logf("%d histories", count)
}

// randomRules gives rules with short times, so that many things fall into one moment.
func randomRules(rng *rand.Rand) secondway.Rules {
	upTo := func(n int) time.Duration { return time.Duration(rng.IntN(n)) * secondway.Step }
	r := secondway.Rules{OnDelay: upTo(5), OffDelay: upTo(5), Latch: rng.IntN(3) == 0}
	r.AcknowledgeOnReturn = !r.Latch && rng.IntN(3) == 0
	if rng.IntN(2) == 0 {
		r.ReAlarm = secondway.Step + upTo(8)
	}
	if rng.IntN(4) != 0 {
		r.ShelveCap = secondway.Step + upTo(12)
	}
	return r
}

// randomHistory gives up to forty entries; the condition tends to stay as it is.
func randomHistory(rng *rand.Rand, r secondway.Rules) secondway.History {
	var h secondway.History
	at := time.Duration(0)
	cond := secondway.Absent
	for range 1 + rng.IntN(40) {
		if rng.IntN(3) != 0 {
			at += time.Duration(rng.IntN(4)) * secondway.Step
		}
		if rng.IntN(3) == 0 {
			cond = secondway.Condition(rng.IntN(3))
		}
		e := secondway.Entry{At: at, Kind: secondway.Reading}
		if rng.IntN(2) == 0 {
			e.Kind = secondway.Kind(rng.IntN(int(secondway.Restart) + 1))
		}
		switch e.Kind {
		case secondway.Reading:
			e.Condition = cond
		case secondway.Acknowledge:
			e.Occurrence = uint64(rng.IntN(4))
		case secondway.Shelve:
			e.For = time.Duration(rng.IntN(int(r.ShelveCap/secondway.Step)+3)-1) * secondway.Step
			e.OneShot = rng.IntN(2) == 0
		case secondway.Suppress, secondway.Service:
			e.On = rng.IntN(2) == 0
		}
		h = append(h, e)
	}
	return h
}

// difference gives what the two ways first differ in, empty for nothing. punctual tells whether the machine is looked at
// whenever it asks to be, or only with the entries.
func difference(r secondway.Rules, h secondway.History, punctual bool) string {
	d, err := newDriven(r, punctual)
	if err != nil {
		return err.Error()
	}
	for i, e := range h {
		done, err := d.enter(e)
		if err != nil {
			return fmt.Sprintf("entry %d: %v", i, err)
		}
		want := secondway.Stand(r, h[:i+1], punctual)
		got := d.standing(done)
		if e.Kind != secondway.Look && e.Kind != secondway.Reading && e.Kind != secondway.Restart {
			got.Pending = want.Pending // a request counts no delay; the next look does, and Next is held below
		}
		if got != want {
			return fmt.Sprintf("entry %d:\ngot  %s\nwant %s", i, inWords(got), inWords(want))
		}
		left, ever := d.alarm.Next()
		if want, wantEver := secondway.Next(r, h[:i+1], punctual); left != want || ever != wantEver {
			return fmt.Sprintf("entry %d: next in %v (%v), want %v (%v)", i, left, ever, want, wantEver)
		}
	}
	return ""
}

// driven is the state machine under way.
type driven struct {
	options  alarm.Options
	alarm    *alarm.Alarm
	punctual bool
	began    time.Duration // running time at the start of this run
	now      time.Duration // on the clock of this run
	calls    int
}

func newDriven(r secondway.Rules, punctual bool) (*driven, error) {
	o := alarm.Options{Name: "room", OnDelay: r.OnDelay, OffDelay: r.OffDelay, Latch: r.Latch,
		AcknowledgeOnReturn: r.AcknowledgeOnReturn, ReAlarm: r.ReAlarm, ShelveCap: r.ShelveCap}
	a, err := alarm.New(o, alarm.Memory{}, runStart)
	return &driven{options: o, alarm: a, punctual: punctual, now: runStart}, err
}

// runStart is what the clock of every run shows when the alarm is made: not 0, so that nothing may rest on it.
const runStart = 7 * time.Second

// enter takes an entry, and tells whether it could be done.
func (d *driven) enter(e secondway.Entry) (bool, error) {
	now := runStart + e.At - d.began
	for looks := 0; d.punctual; looks++ {
		left, ever := d.alarm.Next()
		if looks > 100 || left < 0 {
			return false, fmt.Errorf("next in %v after %d looks", left, looks)
		}
		if !ever || d.now+left >= now {
			break
		}
		d.now += left
		d.count(d.alarm.Tick(d.now))
	}
	d.now = now
	var all []alarm.Transition
	var refused error
	switch e.Kind {
	case secondway.Look:
		all = d.alarm.Tick(now)
	case secondway.Reading:
		all = d.alarm.Evaluate(now, alarm.Condition(e.Condition))
	case secondway.Acknowledge:
		all, refused = d.alarm.Acknowledge(now, e.Occurrence)
	case secondway.Reset:
		all, refused = d.alarm.Reset(now)
	case secondway.Shelve:
		all, refused = d.alarm.Shelve(now, e.For, e.OneShot)
	case secondway.Unshelve:
		all, refused = d.alarm.Unshelve(now)
	case secondway.Suppress:
		all = d.alarm.Suppress(now, e.On)
	case secondway.Service:
		all, refused = d.alarm.Service(now, e.On)
	case secondway.Restart:
		return true, d.restart(e)
	}
	d.count(all)
	return refused == nil, nil
}

func (d *driven) count(all []alarm.Transition) {
	for _, t := range all {
		if t.Annunciated {
			d.calls++
		}
	}
}

// restart makes the alarm anew from what was kept on disk after a last look.
func (d *driven) restart(e secondway.Entry) error {
	d.count(d.alarm.Tick(d.now))
	kept, err := json.Marshal(d.alarm.Memory())
	if err != nil {
		return err
	}
	var m alarm.Memory
	if err := json.Unmarshal(kept, &m); err != nil {
		return err
	}
	d.began, d.now = e.At, runStart
	d.alarm, err = alarm.New(d.options, m, runStart)
	return err
}

// standing puts how the machine stands into the words of the second way.
func (d *driven) standing(done bool) secondway.Standing {
	m := d.alarm.Memory()
	return secondway.Standing{
		Shown: d.alarm.State().Letter(), Under: m.Under().Letter(),
		Active: m.Active, Unacknowledged: m.Unacknowledged, Occurrence: m.Occurrence,
		Condition: secondway.Condition(m.Last), Pending: m.Pending, Stood: m.Standing,
		ShelvedLeft: m.ShelvedLeft, OneShot: m.OneShot, Suppressed: m.Suppressed, Out: m.OutOfService,
		Calls: d.calls, Done: done,
	}
}

// shortest leaves out of a history, and moves together, what the difference does not need.
func shortest(r secondway.Rules, h secondway.History, punctual bool) secondway.History {
	for again := true; again; {
		again = false
		for i := range h {
			if fewer := slices.Delete(slices.Clone(h), i, i+1); difference(r, fewer, punctual) != "" {
				h, again = fewer, true
				break
			}
			sooner := slices.Clone(h)
			for k := i; k < len(h); k++ {
				sooner[k].At -= secondway.Step
			}
			if (i == 0 && h[0].At > 0 || i > 0 && h[i].At > h[i-1].At) && difference(r, sooner, punctual) != "" {
				h, again = sooner, true
				break
			}
		}
	}
	return h
}

var kinds = []string{"look", "reading", "acknowledge", "reset", "shelve", "unshelve", "suppress", "service", "restart"}

func told(h secondway.History) string {
	var b strings.Builder
	for i, e := range h {
		fmt.Fprintf(&b, "%2d  %4v %-11s", i, e.At, kinds[e.Kind])
		switch e.Kind {
		case secondway.Reading:
			fmt.Fprint(&b, " ", alarm.Condition(e.Condition))
		case secondway.Acknowledge:
			fmt.Fprint(&b, " no. ", e.Occurrence)
		case secondway.Shelve:
			fmt.Fprint(&b, " for ", e.For, ", one shot ", e.OneShot)
		case secondway.Suppress, secondway.Service:
			fmt.Fprint(&b, " ", e.On)
		}
		fmt.Fprintln(&b)
	}
	return b.String()
}

func inWords(s secondway.Standing) string {
	return fmt.Sprintf("%c over %c %+v", s.Shown, s.Under, s)
}
