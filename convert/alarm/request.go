package alarm

import (
	"fmt"
	"time"
)

// Refused says why a request was not done. Its text is one line for the person who asked.
type Refused struct {
	Code string // stable: "nothing-to-acknowledge", …
	Text string
}

// Error gives the text.
func (r *Refused) Error() string { return r.Text }

func refuse(code, format string, args ...any) error {
	return &Refused{Code: code, Text: fmt.Sprintf(format, args...)}
}

// Acknowledge says that a person has seen the alarm. It acts on what was there before and on no later activation, nor on
// one that time brings in its own moment. occurrence, where it is not 0, names what was seen: if the alarm came again
// since, nothing is acknowledged.
func (a *Alarm) Acknowledge(now time.Duration, occurrence uint64) ([]Transition, error) {
	var out []Transition
	before := a.m.Occurrence
	if occurrence == 0 {
		occurrence = before
	}
	a.advance(now, &out)
	switch {
	case before != a.m.Occurrence || occurrence != a.m.Occurrence:
		return out, refuse("came-again", "%s: occurrence %d was seen, but it has come again as %d; look at that one", a.o.Name, min(before, occurrence), a.m.Occurrence)
	case !a.m.Unacknowledged:
		return out, refuse("nothing-to-acknowledge", "%s: there is nothing to acknowledge; it is %s", a.o.Name, a.State())
	}
	a.change(&out, ByAck, func(m *Memory) { m.Unacknowledged, m.Standing = false, 0 })
	return out, nil
}

// Reset clears the latch of an alarm that has gone and was acknowledged. While the condition is present it does nothing,
// also during the on-delay of its coming back.
func (a *Alarm) Reset(now time.Duration) ([]Transition, error) {
	var out []Transition
	a.advance(now, &out)
	switch {
	case !a.m.Latched:
		return out, refuse("nothing-to-reset", "%s: there is nothing to reset; it is %s", a.o.Name, a.State())
	case a.m.Active || a.m.Last == Present:
		return out, refuse("still-active", "%s: the condition is still there; reset it when it has gone", a.o.Name)
	case a.m.Unacknowledged:
		return out, refuse("not-acknowledged", "%s: acknowledge it first", a.o.Name)
	}
	a.change(&out, ByReset, func(m *Memory) { m.Latched = false })
	return out, nil
}

// Shelve sets the alarm aside for a time, or, with oneShot, until it next becomes inactive; the cap holds for both, and
// for one shot a time of 0 means the cap. It returns by itself. Shelving again counts from now.
func (a *Alarm) Shelve(now, d time.Duration, oneShot bool) ([]Transition, error) {
	var out []Transition
	a.advance(now, &out)
	if oneShot && d == 0 {
		d = a.o.ShelveCap
	}
	switch {
	case a.o.ShelveCap == 0:
		return out, refuse("not-shelvable", "%s: its class may not be shelved", a.o.Name)
	case d <= 0 || d > a.o.ShelveCap:
		return out, refuse("shelved-too-long", "%s: cannot be shelved for %v; allowed: up to %v", a.o.Name, d, a.o.ShelveCap)
	}
	a.change(&out, ByShelving, func(m *Memory) { m.ShelvedLeft, m.OneShot = d, oneShot })
	return out, nil
}

// Unshelve brings the alarm back before its time.
func (a *Alarm) Unshelve(now time.Duration) ([]Transition, error) {
	var out []Transition
	a.advance(now, &out)
	if a.m.ShelvedLeft <= 0 {
		return out, refuse("not-shelved", "%s: is not shelved", a.o.Name)
	}
	a.show(&out, ByUnshelve, func(m *Memory) { m.ShelvedLeft, m.OneShot = 0, false })
	return out, nil
}

// Suppress follows the logic of the plant. No person does this.
func (a *Alarm) Suppress(now time.Duration, on bool) []Transition {
	var out []Transition
	a.advance(now, &out)
	a.show(&out, ByDesign, func(m *Memory) { m.Suppressed = on })
	return out
}

// Service takes the alarm out of service, or back.
func (a *Alarm) Service(now time.Duration, out bool) ([]Transition, error) {
	var did []Transition
	a.advance(now, &did)
	if a.m.OutOfService == out {
		if out {
			return did, refuse("out-already", "%s: is out of service already", a.o.Name)
		}
		return did, refuse("in-service", "%s: is in service", a.o.Name)
	}
	a.show(&did, ByService, func(m *Memory) { m.OutOfService = out })
	return did, nil
}
