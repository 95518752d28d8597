package alarms

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"manobridge/convert/alarm"
	"manobridge/publish"
)

// kept is what one limit keeps over a restart.
type kept struct {
	Alarm alarm.Memory    `json:"alarm"`
	Fault alarm.Memory    `json:"fault"`
	Known alarm.Condition `json:"known"`

	Sequence   uint64    `json:"sequence"`
	Raised     time.Time `json:"raised,omitzero"`
	Since      time.Time `json:"since,omitzero"`
	FaultSince time.Time `json:"fault_since,omitzero"`
	DoorSince  time.Time `json:"door_since,omitzero"`
	First      bool      `json:"first"`

	HeldOpen     alarm.Memory  `json:"held_open"`
	SuppressLeft time.Duration `json:"suppress_left_ns"` // of a door that was open
	DoorOpen     bool          `json:"door_open"`
	RestLeft     time.Duration `json:"rest_left_ns"` // before it may suppress again

	Unsent []publish.AlarmEvent `json:"unsent,omitempty"`

	Excursion int64           `json:"excursion"` // open at the time; 0 for none
	Open      alarm.Excursion `json:"open,omitzero"`
}

// keepEvery is how often the time that is left of a delay or a shelving is kept while it runs.
const keepEvery = time.Second

func keptName(limit string) string { return "limit/" + limit }

// takeUp reads what was kept of a limit.
func (k *Keeper) takeUp(ctx context.Context, limit string) (kept, error) {
	text, found, err := k.o.Store.Kept(ctx, keptName(limit))
	if err != nil || !found {
		return kept{}, err
	}
	var was kept
	if err := json.Unmarshal(text, &was); err != nil {
		return kept{}, fmt.Errorf("the state kept of it cannot be read: %w", err)
	}
	return was, nil
}

// keepNow keeps a state that has changed, or a time that runs, where it is due.
func (k *Keeper) keepNow(ctx context.Context, w *one, now Now, must bool) {
	if !must && (!w.running() || now.Mono-w.kept < keepEvery) {
		return
	}
	if err := k.keep(ctx, w, now); err != nil {
		k.unkept(w, err)
	}
}

// running tells whether a time is counted that a restart must not lose.
func (w *one) running() bool {
	_, due := w.alarm.Next()
	_, faultDue := w.fault.Next()
	m := w.alarm.Memory()
	return due || faultDue || w.door != nil && (w.door.open || w.door.suppressing || w.door.rested > w.seen) || m.Active && m.Last == alarm.Absent
}

func (k *Keeper) keep(ctx context.Context, w *one, now Now) error {
	was := kept{Alarm: w.alarm.Memory(), Fault: w.fault.Memory(), Known: w.known, Sequence: w.sequence, Raised: w.raised,
		Since: w.since[0], FaultSince: w.since[1], First: w.wasFirst, Unsent: w.unsent}
	if w.door != nil {
		was.DoorOpen, was.RestLeft = w.door.open, max(w.door.rested-w.seen, 0)
		was.HeldOpen, was.SuppressLeft, was.DoorSince = w.door.held.Memory(), w.door.left(w.seen), w.since[2]
	}
	if w.latest.Open {
		was.Excursion, was.Open = w.excursion, w.latest
	}
	text, err := json.Marshal(was)
	if err != nil {
		return err
	}
	if err := k.o.Store.Keep(ctx, keptName(w.c.Name), text); err != nil {
		return err
	}
	if w.kept, w.dirty = now.Mono, false; w.unkept {
		w.unkept = false
		k.o.Log.Info("the state of the limit is kept again", "code", "limit-kept", "limit", w.c.Name)
	}
	return nil
}
