package alarms

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

const withDoor = `  filling-pressure: {of: filling, low: 12 Pa, deadband: 0.5 Pa, decision: simple-acceptance, priority: medium, response: close the doors, on_delay: {time: 1s, rationale: a test},
    door: {from: contacts, open_is: 1, extend_at_most: 10s, held_open_after: 20s, rationale: a test, response: close it}}
`

func openDoor(t *testing.T) *hall {
	t.Helper()
	return open(t, withDoor)
}

// openFan is openDoor with the contact of a fan in place of the door's; the limit means nothing while it is off.
func openFan(t *testing.T) *hall {
	t.Helper()
	return open(t, strings.Replace(withDoor, "door: {from: contacts, open_is: 1, extend_at_most: 10s, held_open_after: 20s, rationale: a test, response: close it}",
		"suppress_while: {from: contacts, is: 0, rationale: the fan is off}", 1))
}

// says gives what the contact says; nothing means that it is silent.
func (h *hall) says(contact ...float64) {
	r := convert.Reading{Name: convert.Name{Run: "r", Instrument: "contacts", Seq: 1}, ReceivedAt: h.wall, SinceStart: h.mono}
	if len(contact) > 0 {
		r.Contact = convert.Some(contact[0])
	} else {
		r.Refusal = &convert.Refusal{Code: convert.Silence}
	}
	h.k.Hear(context.Background(), &r, h.now())
}

// An open door suppresses by design for ten seconds at most, then the alarm comes though it is open, and after twenty the door
// is an alarm of its own. The excursion goes on record all the while.
func TestDoorSuppressesForATime(t *testing.T) {
	h := openDoor(t)
	h.says(0)
	h.holds("filling", 20, 2)
	h.says(1)
	h.holds("filling", 10, 9)
	if s := h.state("filling-pressure"); s.State != "suppressed-by-design" || s.Door != "open" {
		t.Fatalf("got %s with the door %s, want it suppressed 9 s after the opening", s.State, s.Door)
	}
	if slices.ContainsFunc(h.board.events, func(e publish.AlarmEvent) bool { return e.Annunciated }) {
		t.Fatal("somebody was called while the alarm was suppressed")
	}
	h.holds("filling", 10, 3)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" || s.HeldOpen != "normal" {
		t.Fatalf("got %+v, want the alarm to come after the ten seconds", s)
	}
	h.holds("filling", 10, 9)
	if s := h.state("filling-pressure"); s.HeldOpen != "unacknowledged" {
		t.Errorf("got %s, want the door an alarm of its own after 20 s", s.HeldOpen)
	}
	last := h.board.events[len(h.board.events)-1]
	if last.Alarm != "door" || last.Class != "door" || last.Response != "close it" || !last.Annunciated {
		t.Errorf("got %+v, want the event of the door", last)
	}
	h.says(0)
	h.holds("filling", 20, 2)
	if s := h.state("filling-pressure"); s.HeldOpen != "normal" || s.Door != "closed" {
		t.Errorf("got %+v, want the door well again", s)
	}
	if e := h.ledger.pages[0]; e.Door != "open" && e.Door != "both" || e.Lasted < 20*time.Second {
		t.Errorf("got %+v, want the whole excursion with the door", e)
	}
}

// Opened again and again, it suppresses the first time only: it must have been closed for as long as it may suppress.
func TestDoorOpenedAgainAndAgain(t *testing.T) {
	h := openDoor(t)
	h.says(0)
	h.holds("filling", 20, 1)
	h.says(1)
	h.holds("filling", 10, 5)
	h.says(0)
	h.says(1)
	h.holds("filling", 10, 2)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s, want no second suppression at once", s.State)
	}
	h.says(0)
	h.holds("filling", 20, 12)
	h.says(1)
	h.holds("filling", 10, 5)
	if s := h.state("filling-pressure"); s.State != "suppressed-by-design" {
		t.Errorf("got %s, want it suppressed again after 12 s of a closed door", s.State)
	}
}

// A contact that is not heard, or says nonsense, suppresses nothing.
func TestSilentContactSuppressesNothing(t *testing.T) {
	for name, silent := range map[string]func(h *hall){"silent": func(h *hall) { h.says() }, "nonsense": func(h *hall) { h.says(2) }} {
		h := openDoor(t)
		h.says(0)
		h.holds("filling", 20, 1)
		h.says(1)
		h.holds("filling", 10, 3)
		silent(h)
		h.holds("filling", 10, 2)
		if s := h.state("filling-pressure"); s.State != "unacknowledged" || s.Door != "unknown" {
			t.Errorf("%s: got %s with the door %s, want the alarm", name, s.State, s.Door)
		}
	}
}

// After a restart what was left of the suppressing holds until the contact is heard or it is over.
func TestDoorOverARestart(t *testing.T) {
	h := openDoor(t)
	h.says(0)
	h.holds("filling", 20, 1)
	h.says(1)
	h.holds("filling", 10, 4)
	h.start()
	h.holds("filling", 10, 4)
	if s := h.state("filling-pressure"); s.State != "suppressed-by-design" {
		t.Errorf("got %s 8 s after the opening, want it suppressed over the restart", s.State)
	}
	h.holds("filling", 10, 4)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s 12 s after the opening, want the alarm", s.State)
	}
}

// A fan that is off by its contact suppresses for as long as it is.
func TestPlantSuppresses(t *testing.T) {
	h := openFan(t)
	for range 6 {
		h.says(0)
		h.holds("filling", 10, 20)
	}
	if s := h.state("filling-pressure"); s.State != "suppressed-by-design" {
		t.Fatalf("got %s, want it suppressed while the fan is off", s.State)
	}
	h.says(1)
	h.holds("filling", 10, 1)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s, want the alarm as new when the fan is on", s.State)
	}
}

// A restart renews nothing: a door that was held open, or not yet closed for long enough, suppresses no second time.
func TestRestartRenewsNoSuppression(t *testing.T) {
	h := openDoor(t)
	h.says(0)
	h.holds("filling", 20, 1)
	h.says(1)
	h.holds("filling", 10, 13) // the ten seconds are spent
	h.start()
	h.says(1)
	h.holds("filling", 10, 3)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s after a restart with the door still open, want no second suppression", s.State)
	}
	h.says(0)
	h.holds("filling", 20, 3)
	h.start()
	h.says(0)
	h.says(1)
	h.holds("filling", 10, 3)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s 6 s after the closing, over a restart, want no suppression before 10 s", s.State)
	}
}

// A contact that is stuck is believed for a minute.
func TestStuckContactIsNotBelievedForEver(t *testing.T) {
	h := openFan(t)
	h.says(0)
	h.holds("filling", 10, 58)
	if s := h.state("filling-pressure"); s.State != "suppressed-by-design" {
		t.Fatalf("got %s, want it suppressed within the minute", s.State)
	}
	h.holds("filling", 10, 5)
	if s := h.state("filling-pressure"); s.State != "unacknowledged" {
		t.Errorf("got %s, want the alarm after a minute without a word of the contact", s.State)
	}
}
