package alarms

import (
	"context"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/alarm"
)

// door is the contact of a limit's door. While it is open the alarm is suppressed by design, from the opening on for as long
// as is allowed; then it must have been closed for as long before it suppresses again, so that a door that is opened again
// and again hides nothing. A contact that is not heard suppresses nothing.
type door struct {
	c     *configs.Door
	held  *alarm.Alarm
	open  bool // as it was heard last; only a closing that was heard ends it
	known bool
	heard time.Duration // when

	suppressing bool
	until       time.Duration // of the suppressing
	rested      time.Duration // from when on it may suppress again
}

func newDoor(c *configs.Limit, was kept, now time.Duration) (*door, error) {
	held, err := alarm.New(alarm.Options{Name: c.Name, OnDelay: c.Door.HeldOpenAfter.Std(), AcknowledgeOnReturn: true, ShelveCap: c.ShelveAtMost.Std()}, was.HeldOpen, now)
	if err != nil {
		return nil, err
	}
	// A restart is no closing: what was open stays the same opening, and the rest of a closed door goes on.
	d := &door{c: c.Door, held: held, open: was.DoorOpen, rested: now + min(was.RestLeft, c.Door.ExtendAtMost.Std())}
	if was.SuppressLeft > 0 { // until the contact is heard, or the rest is over
		d.suppressing, d.until = true, now+min(was.SuppressLeft, c.Door.ExtendAtMost.Std())
	}
	return d, nil
}

// hear takes what the contact says, or that it is not heard.
func (d *door) hear(now time.Duration, open, known bool) {
	opened := known && open && !d.open
	if d.known, d.heard = known, now; known {
		d.open = open
	}
	switch {
	case !known || !open:
		d.end(now)
	case opened && !d.suppressing && now >= d.rested:
		d.suppressing, d.until = true, now+d.c.ExtendAtMost.Std()
	}
}

// end ends the suppressing.
func (d *door) end(now time.Duration) {
	if d.suppressing {
		d.suppressing, d.rested = false, now+d.c.ExtendAtMost.Std()
	} else if d.open {
		d.rested = now + d.c.ExtendAtMost.Std() // the rest is one of a closed door
	}
}

// left is how much longer it suppresses.
func (d *door) left(now time.Duration) time.Duration {
	if !d.suppressing {
		return 0
	}
	return max(d.until-now, 0)
}

// condition is that of the alarm for a door that is held open.
func (d *door) condition() alarm.Condition {
	switch {
	case !d.known:
		return alarm.Unknown
	case d.open:
		return alarm.Present
	}
	return alarm.Absent
}

// plant is the contact of a state of the plant in which the alarm means nothing.
type plant struct {
	c     *configs.SuppressWhile
	is    bool
	heard time.Duration
}

// contactAge is how long a contact is believed that is not said again: one that is stuck must not hide an alarm for ever.
const contactAge = time.Minute

// Hear takes what a station or an instrument says of contacts.
func (k *Keeper) Hear(ctx context.Context, r *convert.Reading, now Now) {
	silent := r.Refusal != nil && (r.Refusal.Code == convert.Silence || r.Refusal.Code == convert.PortGone)
	if !r.Contact.Set && !silent {
		return
	}
	known := r.Contact.Set && (r.Contact.V == 0 || r.Contact.V == 1)
	var touched []*one
	for _, w := range k.ones {
		at := max(now.Mono, w.seen)
		mine := false
		if d := w.door; d != nil && d.c.From == r.Instrument {
			d.hear(at, r.Contact.V == float64(d.c.OpenIs), known)
			w.heard = append(w.heard, heard{door: d.held.Evaluate(at, d.condition())})
			mine = true
		}
		if p := w.plant; p != nil && p.c.From == r.Instrument {
			p.is, p.heard = known && r.Contact.V == float64(p.c.Is), at
			mine = true
		}
		if mine {
			w.seen = at
			w.heard = append(w.heard, heard{limit: w.suppress(at)})
			touched = append(touched, w)
		}
	}
	k.cycle(ctx, touched, now)
}

// suppress brings the suppression of a limit into line with its door and its plant.
func (w *one) suppress(now time.Duration) []alarm.Transition {
	return w.alarm.Suppress(now, w.door != nil && w.door.suppressing || w.plant != nil && w.plant.is)
}

// tickDoor ends a suppressing that has lasted long enough, and lets a door be held open for too long.
func (w *one) tickDoor(now time.Duration) heard {
	if p := w.plant; p != nil && p.is && now-p.heard > contactAge {
		p.is = false
	}
	d := w.door
	if d == nil {
		return heard{limit: w.suppress(now)}
	}
	if d.known && now-d.heard > contactAge {
		d.hear(now, false, false)
	}
	if d.suppressing && now >= d.until {
		d.end(now)
	} else if d.open && !d.suppressing {
		d.end(now)
	}
	return heard{limit: w.suppress(now), door: d.held.Tick(now)}
}

// doorWord says how the door is, empty where there is none.
func (w *one) doorWord() string {
	switch {
	case w.door == nil:
		return ""
	case !w.door.known:
		return "unknown"
	case w.door.open:
		return "open"
	}
	return "closed"
}

// doorSaid is the same for the record, where what is not known is left out.
func (w *one) doorSaid() string {
	if w.door == nil || !w.door.known {
		return ""
	}
	return w.doorWord()
}

func (w *one) heldOpen() string {
	if w.door == nil {
		return ""
	}
	return string(w.door.held.State())
}
