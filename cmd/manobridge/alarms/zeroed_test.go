package alarms

import (
	"context"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// With both ports open an instrument shows 0 Pa, which is beyond a low limit of 12 Pa and is not the pressure of the room: no
// alarm and no excursion come of it, and the limit says that it is not watched.
func TestAZeroThatIsTakenCrossesNoLimit(t *testing.T) {
	h := open(t, `  filling-pressure: {of: filling, low: 12 Pa, decision: simple-acceptance, priority: medium, response: close the doors}
`)
	h.holds("filling", 30, 3)
	for range 5 {
		h.pass(time.Second)
		res := h.of["filling"].Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: "filling", Seq: 1}, ReceivedAt: h.wall, SinceStart: h.mono,
			Low: convert.Some(quantity.Millimetres(0)), Temperature: convert.Some(quantity.Celsius(20))})
		res.Mark(&convert.Refusal{Code: convert.ZeroCheck, Field: "instrument", Seen: "has both ports open"})
		h.k.See(context.Background(), &res, h.now())
	}
	if s := h.state("filling-pressure"); s.State != "normal" || s.ValuePa != nil || s.Verdict != "cannot-tell" || !strings.Contains(s.Why, "both its ports open") {
		t.Errorf("got %+v, want a limit that is not known meanwhile", s)
	}
	if len(h.ledger.pages) != 0 {
		t.Errorf("got %+v, want no excursion", h.ledger.pages)
	}
	h.holds("filling", 30, 1)
	if s := h.state("filling-pressure"); s.State != "normal" || s.Verdict != "inside" {
		t.Errorf("got %+v, want it inside again", s)
	}
}

// A new zero moves every pressure after it: 10 mm of the tube within a second, some 8 Pa, would be a rate of 60 Pa/min over
// 10 s; the pressure has not moved.
func TestANewZeroIsNoRate(t *testing.T) {
	h := open(t, `  loading: {of: filling, rate: {over: 10s, high: 5 Pa/min, low: -5 Pa/min}, decision: simple-acceptance, priority: medium, response: look}
`)
	h.holds("filling", 30, 12)
	h.k.Replaced("filling")
	h.pass(time.Second)
	h.holds("filling", 40, 12)
	if s := h.state("loading"); s.State != "normal" || s.Verdict != "inside" {
		t.Errorf("got %+v, want no rate", s)
	}
	if len(h.ledger.pages) != 0 || len(h.board.events) != 0 {
		t.Errorf("got %+v and %+v, want no excursion and no event", h.ledger.pages, h.board.events)
	}
}
