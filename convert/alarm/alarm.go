package alarm

import (
	"fmt"
	"time"
)

// Options say how one alarm behaves.
type Options struct {
	Name string
	// OnDelay is how long the condition must be present, without a break, before the alarm is active; OffDelay how long it
	// must be absent before it is inactive again. 0 or more.
	OnDelay, OffDelay time.Duration
	// Latch keeps the alarm until it is reset: for what must be looked into even when it has gone.
	Latch bool
	// AcknowledgeOnReturn acknowledges by itself an alarm that has returned to normal; not with Latch.
	AcknowledgeOnReturn bool
	// ReAlarm makes an alarm that has been active for that long since it was acknowledged unacknowledged again, as new.
	// 0: never.
	ReAlarm time.Duration
	// ShelveCap is the longest time an alarm may be shelved at once. 0: it cannot be shelved.
	ShelveCap time.Duration
}

func (o *Options) check() error {
	switch {
	case o.Name == "":
		return fmt.Errorf("an alarm needs a name")
	case o.OnDelay < 0 || o.OffDelay < 0 || o.ReAlarm < 0 || o.ShelveCap < 0:
		return fmt.Errorf("alarm %s: a negative time; allowed: 0 and up", o.Name)
	case o.Latch && o.AcknowledgeOnReturn:
		return fmt.Errorf("alarm %s: what is latched is acknowledged by a person; it cannot acknowledge itself", o.Name)
	}
	return nil
}

// Cause says why a transition happened.
type Cause string

// The causes.
const (
	ByCondition Cause = "condition" // present for the on-delay, or absent for the off-delay
	ByReAlarm   Cause = "re-alarm"
	ByAck       Cause = "acknowledged"
	ByReset     Cause = "reset"
	ByShelving  Cause = "shelved"
	ByUnshelve  Cause = "unshelved"   // by a person
	ByExpiry    Cause = "shelf-ended" // its time was over, or the one shot was used
	ByDesign    Cause = "design"      // suppressed, or no longer
	ByService   Cause = "service"     // out of service, or back
	ByRestart   Cause = "restart"
)

// Transition is one change of an alarm, told whether it is shown or hidden.
type Transition struct {
	Alarm      string
	Occurrence uint64
	At         time.Duration // since the start of the run
	Cause      Cause

	From, To           State // as shown
	UnderFrom, UnderTo State // without shelving, suppression and service
	// Annunciated says that a person is called: a new occurrence that nothing hides. Only these count towards rates.
	Annunciated bool
}

// Alarm is one alarm. It is not safe for concurrent use.
type Alarm struct {
	o    Options
	m    Memory
	now  time.Duration // of the latest call
	seen time.Duration // up to where Pending counts
}

// New makes an alarm that remembers m, which is the zero Memory for one that never was. now is the present moment: no time
// before it counts.
func New(o Options, m Memory, now time.Duration) (*Alarm, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if m.Pending < 0 || m.Standing < 0 || m.ShelvedLeft < 0 {
		return nil, fmt.Errorf("alarm %s: the kept state has a negative time", o.Name)
	}
	// The configuration may have changed since: what it no longer allows is not carried on.
	m.ShelvedLeft = min(m.ShelvedLeft, o.ShelveCap)
	m.OneShot = m.OneShot && m.ShelvedLeft > 0
	m.Latched = m.Latched && o.Latch
	// Nothing has been read yet: what is left of a delay waits for the first reading.
	m.Last = Unknown
	return &Alarm{o: o, m: m, now: now, seen: now}, nil
}

// Memory gives what the alarm remembers.
func (a *Alarm) Memory() Memory { return a.m }

// State gives the state as shown.
func (a *Alarm) State() State { return a.m.State() }

// Name gives the name.
func (a *Alarm) Name() string { return a.o.Name }

// Evaluate takes a fresh condition. Requests that came before or in the same moment are made first, so that an activation
// in the moment of an acknowledgement stays unacknowledged.
//
// The on-delay is the time the condition was present since it became so; while it is unknown nothing is added, and nothing
// is taken away. The off-delay starts anew after an unknown condition: only an unbroken absence clears. Where Tick came too
// late to see an on-delay run out, the reading decides: with the condition gone there is no alarm. (The sources leave it open.)
func (a *Alarm) Evaluate(now time.Duration, c Condition) []Transition {
	var out []Transition
	a.advance(now, &out)
	dt := a.since()
	switch {
	case c == Unknown:
		if a.m.Active {
			a.m.Pending = 0
		} else if a.m.Last == Present { // up to now it was present
			a.m.Pending += dt
		}
	case c == Present == a.m.Active: // as it is
		a.m.Pending = 0
	case a.m.Last == c:
		a.m.Pending += dt
	case a.m.Last != Unknown: // it has just changed
		a.m.Pending = 0
	}
	a.m.Last = c
	if c == Unknown || (c == Present) == a.m.Active {
		return out
	}
	if c == Present && a.m.Pending >= a.o.OnDelay {
		a.activate(&out)
	} else if c == Absent && a.m.Pending >= a.o.OffDelay {
		a.clear(&out)
	}
	return out
}

// Tick lets time pass without news. It ends shelving, alarms again, and lets an on-delay run out while the latest condition
// was present; it never clears anything, which takes a fresh reading.
func (a *Alarm) Tick(now time.Duration) []Transition {
	var out []Transition
	a.advance(now, &out)
	dt := a.since()
	if a.m.Last == Present && !a.m.Active {
		if a.m.Pending += dt; a.m.Pending >= a.o.OnDelay {
			a.activate(&out)
		}
	} else if a.m.Last == Absent && a.m.Active {
		a.m.Pending += dt
	}
	return out
}

// Next gives the time until Tick has something to do, and whether it ever has.
func (a *Alarm) Next() (time.Duration, bool) {
	next, due := time.Duration(0), false
	sooner := func(d time.Duration) {
		if d = max(d, 0); !due || d < next {
			next, due = d, true
		}
	}
	if a.m.ShelvedLeft > 0 {
		sooner(a.m.ShelvedLeft)
	}
	if a.m.Last == Present && !a.m.Active {
		sooner(a.o.OnDelay - a.m.Pending - (a.now - a.seen))
	}
	if a.realarms() {
		sooner(a.o.ReAlarm - a.m.Standing)
	}
	return next, due
}

func (a *Alarm) realarms() bool { return a.o.ReAlarm > 0 && a.m.Active && !a.m.Unacknowledged }

// advance lets the time since the last call pass for everything that does not hang on the condition.
func (a *Alarm) advance(now time.Duration, out *[]Transition) {
	dt := max(now-a.now, 0)
	a.now = max(now, a.now)
	if a.m.ShelvedLeft > 0 {
		if a.m.ShelvedLeft -= dt; a.m.ShelvedLeft <= 0 {
			a.m.ShelvedLeft = dt // still shelved, so that the transition tells from what
			a.show(out, ByExpiry, func(m *Memory) { m.ShelvedLeft, m.OneShot = 0, false })
		}
	}
	if a.realarms() {
		if a.m.Standing += dt; a.m.Standing >= a.o.ReAlarm {
			a.change(out, ByReAlarm, annunciate)
		}
	}
}

// since gives the time that the delays have not counted yet, and counts it.
func (a *Alarm) since() time.Duration {
	dt := a.now - a.seen
	a.seen = a.now
	return dt
}

// annunciate makes the alarm unacknowledged as a new occurrence.
func annunciate(m *Memory) {
	m.Unacknowledged, m.Standing = true, 0
	m.Occurrence++
}

func (a *Alarm) activate(out *[]Transition) {
	a.change(out, ByCondition, func(m *Memory) {
		m.Active, m.Pending, m.Latched = true, 0, a.o.Latch
		annunciate(m)
	})
}

func (a *Alarm) clear(out *[]Transition) {
	a.change(out, ByCondition, func(m *Memory) {
		m.Active, m.Pending, m.Standing = false, 0, 0
		if a.o.AcknowledgeOnReturn {
			m.Unacknowledged = false
		}
	})
	if a.m.OneShot {
		a.show(out, ByExpiry, func(m *Memory) { m.ShelvedLeft, m.OneShot = 0, false })
	}
}

// show ends a way of hiding. An alarm that is active when nothing hides it any more is annunciated as new: who set it aside
// may not be who is there now. (ISA-18.2 leaves a shelved alarm to the normal or the unacknowledged state; from memory.)
func (a *Alarm) show(out *[]Transition, why Cause, end func(*Memory)) {
	a.change(out, why, func(m *Memory) {
		hidden := m.Hidden()
		end(m)
		if m.Active && hidden && !m.Hidden() {
			annunciate(m)
		}
	})
}

// change applies a change and tells of it. Without one there is nothing to tell.
func (a *Alarm) change(out *[]Transition, why Cause, apply func(*Memory)) {
	before := a.m
	apply(&a.m)
	if a.m == before {
		return
	}
	*out = append(*out, Transition{
		Alarm: a.o.Name, Occurrence: a.m.Occurrence, At: a.now, Cause: why,
		From: before.State(), To: a.m.State(), UnderFrom: before.Under(), UnderTo: a.m.Under(),
		Annunciated: a.m.Occurrence != before.Occurrence && !a.m.Hidden(),
	})
}
