package alarms

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"
)

// Each sort of limit under each decision is proved by a value that it finds outside, after its own delay, and goes on as it
// was meanwhile.
func TestProofOfEveryLimit(t *testing.T) {
	for _, bound := range []string{"high: 250 Pa", "low: 12 Pa", "high: 20 Pa, low: 10 Pa, deadband: 1 Pa", "keep_sign: positive", "keep_sign: negative", "rate: {over: 1m, low: -2 Pa/min}"} {
		for _, decision := range []string{"simple-acceptance", "guarded-acceptance", "guarded-rejection"} {
			h := open(t, "  l: {of: filling, "+bound+", decision: "+decision+", priority: low, response: look, on_delay: {time: 3s, rationale: a test}}\n")
			before := h.state("l")
			p, err := h.k.Prove("l", "anna", "yearly test", h.now())
			if err != nil {
				t.Fatal(err)
			}
			if _, err := h.k.Prove("l", "anna", "again", h.now()); err == nil {
				t.Error("two proofs of one limit at once")
			}
			came := time.Duration(0)
			for h.mono < 10*time.Second && came == 0 {
				h.pass(time.Second)
				h.k.Tick(context.Background(), h.now())
				if len(h.board.events) > 0 {
					came = h.mono
				}
			}
			if len(h.board.events) != 1 || came < 3*time.Second || came > p.Expected+time.Second {
				t.Fatalf("%s, %s: got %d events after %v, want one after about %v", bound, decision, len(h.board.events), came, p.Expected)
			}
			e := h.board.events[0]
			if !e.Simulated || e.ID != p.ID || e.Annunciated || e.Verdict != "outside" || !slices.Contains(e.Causes, "simulated") || e.By != "anna" {
				t.Errorf("%s, %s: got %+v, want a simulated event, outside, that calls nobody", bound, decision, e)
			}
			if after := h.state("l"); after.State != before.State || after.Occurrence != 0 {
				t.Errorf("%s, %s: got %+v, want the limit untouched", bound, decision, after)
			}
		}
	}
	h := open(t, low15)
	if _, err := h.k.Prove("other", "anna", "x", h.now()); err == nil || !strings.Contains(err.Error(), "no limit") {
		t.Errorf("got %v, want no such limit", err)
	}
}
