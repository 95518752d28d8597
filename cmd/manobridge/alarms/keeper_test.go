package alarms

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/publish"
)

// The oil has 850 kg/m³ at 15 °C: about 846.7 at 20 °C (API tables), so 1 mm along the 1:10 tube is 0.1034 · 0.8467 · 9.807
// = 0.858 Pa with the level of the reservoir; 20 mm are 17 Pa, 10 mm 8.6 Pa. The bounds lie far from both.
const low15 = `  filling-pressure: {of: filling, low: 12 Pa, deadband: 0.5 Pa, decision: simple-acceptance, priority: medium, class: cleanroom, response: close the doors,
    on_delay: {time: 3s, rationale: a test}, off_delay: {time: 2s, rationale: a test}, shelve_at_most: 1h, re_alarm: 1m, fault: {on_delay: 2s}}
`

func TestLimitCallsAndGoes(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 20, 5)
	if s := h.state("filling-pressure"); s.State != "normal" || s.Verdict != "inside" || s.Fault != "normal" {
		t.Fatalf("got %+v, want normal and inside", s)
	}
	h.holds("filling", 10, 2)
	if s := h.state("filling-pressure"); s.State != "normal" {
		t.Fatalf("got %s 2 s into an on-delay of 3 s", s.State)
	}
	h.holds("filling", 10, 2)
	s := h.state("filling-pressure")
	if s.State != "unacknowledged" || s.Verdict != "outside" || s.ValuePa == nil || *s.ValuePa > 9 || *s.LowPa != 12 || s.Class != "cleanroom" || s.Occurrence != 1 {
		t.Fatalf("got %+v, want an alarm of the first occurrence with its value", s)
	}
	if got := h.asks("filling-pressure", "1", Acknowledge, nil); !got.Done || got.State != "acknowledged" {
		t.Fatalf("got %+v, want it acknowledged", got)
	}
	h.holds("filling", 20, 3)
	want := []string{"limit normal>unacknowledged condition", "limit unacknowledged>acknowledged acknowledged", "limit acknowledged>normal condition"}
	if got := h.board.heard(); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	for i, e := range h.board.events {
		if e.Sequence != uint64(i+1) || e.Response == "" || e.ID == "" {
			t.Errorf("got %+v, want event %d, self-contained", e, i+1)
		}
	}
	if by := h.board.events[1]; by.By != "anna" || by.Why != "seen at the door" {
		t.Errorf("got %q for %q, want who acknowledged and why", by.By, by.Why)
	}
	if len(h.ledger.pages) != 1 {
		t.Fatalf("got %d excursions, want 1", len(h.ledger.pages))
	}
	e := h.ledger.pages[0]
	if e.Open || e.Alarmed.IsZero() || e.Acknowledged.IsZero() || e.By != "anna" || e.Outside < 4 || e.Integral <= 0 {
		t.Errorf("got %+v, want the excursion ended, with its alarm and who acknowledged it", e)
	}
	for _, text := range []string{"code=alarm-raised", "close the doors", "by=anna"} {
		if !strings.Contains(h.log.String(), text) {
			t.Errorf("the log does not say %q:\n%s", text, h.log.String())
		}
	}
}

// A crossing shorter than the delay calls nobody and is on record.
func TestShortCrossingIsOnRecord(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 20, 2)
	h.holds("filling", 10, 1)
	h.holds("filling", 20, 2)
	if len(h.board.events) != 0 || len(h.ledger.pages) != 1 || h.ledger.pages[0].Open {
		t.Errorf("got events %q and excursions %+v, want none and one that has ended", h.board.heard(), h.ledger.pages)
	}
}

// What is not measured holds the alarm and calls for somebody by an alarm of its own class.
func TestLossOfTheMeasurement(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 10, 4)
	h.silent("filling")
	for range 120 {
		h.pass(time.Second)
		h.k.Tick(context.Background(), h.now())
	}
	s := h.state("filling-pressure")
	if s.State != "unacknowledged" || s.Fault != "unacknowledged" || s.Verdict != "cannot-tell" || s.ValuePa != nil || !strings.Contains(s.Why, "silence") {
		t.Fatalf("got %+v, want the alarm held, and the measurement alarmed with the reason", s)
	}
	fault := h.board.events[len(h.board.events)-1]
	if fault.Alarm != "fault" || fault.Class != "measuring-fault" || !fault.Annunciated || !slices.Contains(fault.Causes, "silence") {
		t.Errorf("got %+v, want an alarm of the class measuring-fault with its cause", fault)
	}
	h.holds("filling", 20, 3)
	if s := h.state("filling-pressure"); s.Fault != "normal" || s.State != "returned" {
		t.Errorf("got %+v, want the measurement back and the alarm returned", s)
	}
}

// Killed in each state, and started again from what was kept: state and time left as before, to the second that a running
// time is kept.
func TestRestartInEveryState(t *testing.T) {
	latched := strings.Replace(low15, "shelve_at_most", "latch: true, shelve_at_most", 1)
	for name, c := range map[string]struct {
		limits string
		lead   func(h *hall)
		after  func(h *hall) string // what must be true in the new run; empty where it is
	}{
		"normal": {low15, func(h *hall) { h.holds("filling", 20, 3) }, nil},
		"normal, on-delay running": {low15, func(h *hall) { h.holds("filling", 20, 1); h.holds("filling", 10, 2) }, func(h *hall) string {
			h.reads("filling", 10)
			if s := h.state("filling-pressure").State; s != "normal" {
				return "active at once: " + s
			}
			h.holds("filling", 10, 2)
			if s := h.state("filling-pressure").State; s != "unacknowledged" {
				return "not active after the rest of the delay: " + s
			}
			return ""
		}},
		"unacknowledged": {low15, func(h *hall) { h.holds("filling", 10, 4) }, nil},
		"acknowledged":   {low15, func(h *hall) { h.holds("filling", 10, 4); h.asks("filling-pressure", "1", Acknowledge, nil) }, nil},
		"returned":       {low15, func(h *hall) { h.holds("filling", 10, 4); h.holds("filling", 20, 3) }, nil},
		"latched":        {latched, func(h *hall) { h.holds("filling", 10, 4); h.holds("filling", 20, 3) }, nil},
		"latched-acknowledged": {latched, func(h *hall) {
			h.holds("filling", 10, 4)
			h.holds("filling", 20, 3)
			h.asks("filling-pressure", "1", Acknowledge, nil)
		}, nil},
		"shelved": {low15, func(h *hall) {
			h.holds("filling", 20, 1)
			h.asks("filling-pressure", "1", Shelve, func(r *Request) { r.ForS = 60 })
			h.holds("filling", 20, 20)
		}, func(h *hall) string {
			if left := h.state("filling-pressure").ShelvedLeft; left < 39 || left > 41 {
				return "the time left of the shelving is not 40 s"
			}
			h.holds("filling", 20, 42)
			if s := h.state("filling-pressure").State; s != "normal" {
				return "the shelving did not end: " + s
			}
			return ""
		}},
		"out-of-service": {low15, func(h *hall) { h.holds("filling", 10, 4); h.asks("filling-pressure", "1", OutOfService, nil) }, nil},
	} {
		t.Run(name, func(t *testing.T) {
			h := open(t, c.limits)
			c.lead(h)
			before, unsent := h.state("filling-pressure"), slices.Clone(h.board.events)
			want, _, _ := strings.Cut(name, ",")
			if before.State != want {
				t.Fatalf("got %s before the restart, want %s", before.State, want)
			}
			h.store = h.store.copy()
			h.start()
			after := h.state("filling-pressure")
			if after.State != before.State || after.Occurrence != before.Occurrence {
				t.Errorf("got %s, occurrence %d after the restart, want %s, %d", after.State, after.Occurrence, before.State, before.Occurrence)
			}
			// What the broker has not acknowledged is told again.
			if got := h.board.events; len(got) != len(unsent) || len(got) > 0 && !reflect.DeepEqual(ids(got), ids(unsent)) {
				t.Errorf("got %v told again, want %v", ids(got), ids(unsent))
			}
			if c.after != nil {
				if fault := c.after(h); fault != "" {
					t.Error(fault)
				}
			}
		})
	}
}

func ids(events []publish.AlarmEvent) (out []string) {
	for _, e := range events {
		out = append(out, e.ID)
	}
	return out
}

func TestSentEventsAreNotToldAgain(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 10, 4)
	h.k.Sent(h.board.events[0].ID)
	h.pass(time.Second)
	h.k.Tick(context.Background(), h.now())
	h.start()
	if len(h.board.events) != 0 {
		t.Errorf("got %v told again after it was acknowledged", ids(h.board.events))
	}
}

// An excursion that goes on is on record as far as it has come, for whoever looks meanwhile.
func TestExcursionThatGoesOnIsUpToDate(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 20, 2)
	h.holds("filling", 10, 30)
	if e := h.ledger.pages[0]; !e.Open || e.Lasted < 20*time.Second || e.Outside < 20 || e.Alarmed.IsZero() {
		t.Errorf("got %+v half a minute in, want it as it was at most 10 s before, with its alarm", e)
	}
}

func TestExcursionOpenAtARestartIsEnded(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 20, 2)
	h.holds("filling", 10, 4)
	h.pass(time.Hour)
	h.start()
	if e := h.ledger.pages[0]; e.Open || !strings.Contains(e.Comment, "nothing is known") {
		t.Errorf("got %+v, want it ended with the reason", e)
	}
}

func TestRequestsThatAreNotDone(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 10, 4)
	for code, r := range map[string]func(*Request){
		"no-such-limit": func(r *Request) { r.Limit = "filing-pressure" }, "no-id": func(r *Request) { r.ID = "" },
		"no-user": func(r *Request) { r.User = "" }, "no-why": func(r *Request) { r.Why = "" }, "no-expiry": func(r *Request) { r.Until = time.Time{} },
		"expired": func(r *Request) { r.Until = h.wall.Add(-time.Second) }, "no-such-act": func(r *Request) { r.Act = "silence" },
		"came-again": func(r *Request) { r.Saw = 7 }, "shelved-too-long": func(r *Request) { r.Act, r.ForS = Shelve, 3601 },
		"nothing-to-reset": func(r *Request) { r.Act = Reset }, "not-shelved": func(r *Request) { r.Act = Unshelve },
	} {
		if got := h.asks("filling-pressure", "x-"+code, Acknowledge, r); got.Done || got.Code != code || got.Text == "" {
			t.Errorf("got %+v, want it refused with %s", got, code)
		}
	}
	far := h.asks("filling-pressure", "far", Acknowledge, func(r *Request) { r.Until = h.wall.Add(48 * time.Hour) })
	if far.Done || h.state("filling-pressure").State != "unacknowledged" {
		t.Errorf("got %+v, want a request that holds for two days not done", far)
	}
}

// A request that is played back acknowledges nothing that came later, not even after a restart.
func TestPlayedBackRequestDoesNothing(t *testing.T) {
	h := open(t, low15)
	h.holds("filling", 10, 4)
	first := h.asks("filling-pressure", "1", Acknowledge, nil)
	h.holds("filling", 20, 3)
	h.holds("filling", 10, 4)
	for _, when := range []string{"in the same run", "after a restart"} {
		if when == "after a restart" {
			h.start()
		}
		again := h.asks("filling-pressure", "1", Acknowledge, nil)
		if !reflect.DeepEqual(again, first) || h.state("filling-pressure").State != "unacknowledged" {
			t.Errorf("%s: got %+v in state %s, want the first answer and nothing done", when, again, h.state("filling-pressure").State)
		}
	}
}

func TestDifferenceAndFirstOut(t *testing.T) {
	h := open(t, `  filling-pressure: {of: filling, low: 12 Pa, decision: simple-acceptance, priority: medium, response: close the doors, group: air}
  over-airlock: {difference: {of: filling, less: airlock, within: 2s}, low: 5 Pa, decision: guarded-rejection, priority: low, response: look, group: air}
`)
	h.reads("airlock", 10)
	h.pass(time.Second)
	h.reads("filling", 30)
	if s := h.state("over-airlock"); s.State != "normal" || s.Verdict != "inside" || s.ValuePa == nil || *s.ValuePa < 16 || *s.ValuePa > 18 {
		t.Fatalf("got %+v, want about 17 Pa inside", s)
	}
	h.pass(time.Second)
	h.reads("filling", 11) // beyond both at once: below 12 Pa, and 0.9 Pa over the airlock
	if a, b := h.state("filling-pressure"), h.state("over-airlock"); !a.First || !b.First || b.State != "unacknowledged" {
		t.Errorf("got %+v and %+v, want both first together", a, b)
	}
	h.pass(3 * time.Second)
	h.k.Tick(context.Background(), h.now())
	if s := h.state("over-airlock"); s.Verdict != "cannot-tell" || s.State != "unacknowledged" || !strings.Contains(s.Why, "no pair") {
		t.Errorf("got %+v, want a pair that ran out to be unknown and hold the alarm", s)
	}
}

// Two instruments that are heard each minute, half a minute apart, never make a pair within 2 s, and one that is heard each
// minute gives no rate over a minute, which takes three values. Both limits watch nothing, and call for somebody.
func TestWhatNeverGivesAValueIsNotWatched(t *testing.T) {
	h := open(t, `  over-airlock: {difference: {of: filling, less: airlock, within: 2s}, low: 5 Pa, decision: guarded-rejection, priority: low, response: look}
  loading: {of: filling, rate: {over: 1m, high: 5 Pa/min}, decision: simple-acceptance, priority: low, response: look}
`)
	for minute := range 17 {
		h.reads("filling", 30)
		for second := range 60 {
			if second == 30 {
				h.reads("airlock", 10)
			}
			h.pass(time.Second)
			h.k.Tick(context.Background(), h.now())
		}
		for _, name := range []string{"over-airlock", "loading"} {
			if s := h.state(name); minute < 14 && s.Fault != "normal" {
				t.Fatalf("%s, minute %d: got %+v, want patience after a start", name, minute, s)
			}
		}
	}
	for _, name := range []string{"over-airlock", "loading"} {
		if s := h.state(name); s.Fault != "unacknowledged" || s.Verdict != "cannot-tell" || !strings.Contains(s.Why, "since the start there was no") {
			t.Errorf("%s: got %+v, want that it is not watched", name, s)
		}
	}
}
