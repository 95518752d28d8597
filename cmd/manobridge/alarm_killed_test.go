package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"manobridge/publish/publishtest"
)

// The real program killed with -9 in one state after the other: the next run takes each up as it was, and what was left of a
// delay and of a shelving with it, to the second that running times are kept at.
func TestAlarmStatesSurviveKills(t *testing.T) {
	const delay = 6 * time.Second
	broker := publishtest.Mosquitto(t)
	h := limitedHall(t, broker.Addr, delay.String())
	bin := program(t)
	var d *daemon
	again := func() {
		t.Helper()
		if d != nil {
			d.signal(os.Kill)
			d.status()
		}
		d = launch(t, bin, h.config)
		d.says("port is open")
	}
	word := func() (s struct {
		State      string
		Verdict    string
		Occurrence uint64
		Left       float64 `json:"shelved_left_s"`
	}) {
		_, said := h.does("alarm", "list", "--json")
		_ = json.Unmarshal([]byte(said), &s) // not there yet: no state
		return s
	}
	// until sends a reading every now and then until the limit stands as wanted, and gives how long that took.
	until := func(mm float64, state, verdict string) time.Duration {
		t.Helper()
		began := time.Now()
		publishtest.Eventually(t, state+", "+verdict, func() bool {
			h.line.Send(fmt.Sprintf("%.2f,20.0\n", mm))
			w := word()
			return w.State == state && w.Verdict == verdict
		})
		return time.Since(began)
	}
	again()
	until(20, "normal", "inside")

	// In the on-delay: half of it before the kill, the rest after.
	until(10, "normal", "outside")
	began := time.Now()
	publishtest.Eventually(t, "half the delay", func() bool {
		h.line.Send("10.00,20.0\n")
		return time.Since(began) >= delay/2
	})
	again()
	if rest := until(10, "unacknowledged", "outside"); rest > delay/2+3*time.Second {
		t.Errorf("the alarm came %v after the restart, want the rest of the delay, about %v", rest, delay/2)
	}
	for _, step := range []struct{ act, state string }{{"", "unacknowledged"}, {"acknowledge", "acknowledged"}} {
		if step.act != "" {
			h.wants(exitDone, "is now "+step.state, "alarm", step.act, "filling-pressure", "--why", "a test")
		}
		again()
		until(10, step.state, "outside")
	}
	h.wants(exitDone, "is now shelved", "alarm", "shelve", "filling-pressure", "--for", "30m", "--why", "a test")
	again()
	until(10, "shelved", "outside")
	if left := word().Left; left > 1800 || left < 1770 {
		t.Errorf("got %.0f s left of 30 min, want nearly all of it", left)
	}
	h.wants(exitDone, "is now unacknowledged", "alarm", "unshelve", "filling-pressure", "--why", "a test")
	h.wants(exitDone, "is now acknowledged", "alarm", "acknowledge", "filling-pressure", "--why", "a test")
	until(20, "latched-acknowledged", "inside")
	again()
	until(20, "latched-acknowledged", "inside")
	h.wants(exitDone, "is now out-of-service", "alarm", "out-of-service", "filling-pressure", "--why", "a test")
	again()
	until(20, "out-of-service", "inside")
	if w := word(); w.Occurrence != 2 {
		t.Errorf("got occurrence %d after all kills, want 2", w.Occurrence)
	}
	// The record of acts went through all of it.
	if said := h.wants(exitDone, "", "audit", "verify"); !strings.Contains(said, "6 entries") {
		t.Errorf("got %q, want the configuration and five acts", said)
	}
	d.signal(os.Interrupt)
	d.status()
}
