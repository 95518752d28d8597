package convert

import "testing"

// What a mark does to a value is our own rule: only a cause whose table line is bad takes the pressure away.
func TestMark(t *testing.T) {
	whole := Result{Kind: DifferentialValue, Differential: 12, CombinedU: 0.5, ExpandedU: 1}
	kept := whole
	kept.Mark(&Refusal{Code: TemperatureFixed})
	if _, ok := kept.Pressure(); !ok || kept.Status != Uncertain || len(kept.Causes) != 1 || kept.Refusal != nil {
		t.Errorf("got %v, causes %v, a pressure %v, want uncertain with its pressure", kept.Status, kept.Causes, ok)
	}
	kept.Mark(&Refusal{Code: Silence, Field: "instrument", Seen: "was silent"})
	if _, ok := kept.Pressure(); ok || kept.Status != Bad || kept.Causes[0] != Silence || len(kept.Causes) != 2 || kept.Refusal == nil || kept.ExpandedU != 0 {
		t.Errorf("got %v, causes %v, a pressure %v, want bad for silence without a pressure", kept.Status, kept.Causes, ok)
	}
	kept.Mark(&Refusal{Code: TemperatureFixed})
	if kept.Status != Bad || len(kept.Causes) != 3 {
		t.Errorf("got %v with causes %v, want a mild cause to leave a bad result bad", kept.Status, kept.Causes)
	}
	if whole.Status != Good || whole.Causes != nil {
		t.Error("the result marked was another")
	}
}
