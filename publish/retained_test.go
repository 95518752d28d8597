package publish_test

import (
	"reflect"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

func TestStateFollowsTheReadings(t *testing.T) {
	at := publishtest.Epoch()
	s := publish.Starting("suite-a", "rack-pc", "r1", at, 150*time.Second)
	// BadWaitingForInitialData and BadOutOfService. Source: OPC Foundation, StatusCode.csv of OPC UA 1.05.
	if s.Status != convert.Bad || s.StatusCode != 0x80320000 {
		t.Errorf("at the start: got %v 0x%08X, want bad 0x80320000", s.Status, s.StatusCode)
	}
	good, refused := publishtest.Result("r1", "suite-a", 1), publishtest.Refused("r1", "suite-a", 2)
	up := publish.StateOf(s, &good)
	if up.Status != convert.Good || !up.LastGood.Equal(good.ReceivedAt) || publish.SameWord(s, up) {
		t.Errorf("after a good reading: got %+v", up)
	}
	down := publish.StateOf(up, &refused)
	if down.Status != convert.Bad || !down.LastGood.Equal(good.ReceivedAt) || !down.Time.Equal(refused.ReceivedAt) || publish.SameWord(up, down) {
		t.Errorf("after a refused reading: got %+v, want bad with the time of the last good one", down)
	}
	later := publishtest.Refused("r1", "suite-a", 3)
	if again := publish.StateOf(down, &later); !publish.SameWord(down, again) {
		t.Errorf("got %+v and %+v, want the same word", down, again)
	}
	stopped := up.Stopping(at.Add(time.Hour))
	if stopped.Status != convert.Bad || stopped.StatusCode != 0x808D0000 || !stopped.LastGood.Equal(good.ReceivedAt) {
		t.Errorf("at a planned stop: got %+v, want bad 0x808D0000 with the time of the last good value", stopped)
	}

	order, got := keys(t, down.JSON())
	want := []string{"time", "instrument", "status", "status_code", "ne107", "causes", "last_good", "bridge", "run", "valid_for_s", "schema"}
	if !reflect.DeepEqual(order, want) {
		t.Errorf("got keys %v, want %v", order, want)
	}
	if got["valid_for_s"] != 150.0 || got["bridge"] != "rack-pc" || got["schema"] != 1.0 || got["last_good"] != "2026-03-01T08:00:00.1Z" {
		t.Errorf("got %v, want valid for 150 s, of rack-pc, schema 1, last good at 08:00:00.1", got)
	}
	if order, got := keys(t, up.JSON()); !reflect.DeepEqual(got["causes"], []any{}) {
		t.Errorf("got causes %v in %v, want an empty list", got["causes"], order)
	}
	if _, got := keys(t, s.JSON()); got["last_good"] != nil {
		t.Errorf("got last_good %v before any good value, want none", got["last_good"])
	}
}

func TestAboutAndPresence(t *testing.T) {
	a := publish.About{Instrument: "hepa-bank-2", Bridge: "rack-pc", Kind: "inclined-reservoir", Liquid: "pale-oil",
		Quantity: convert.DifferentialValue, RangePa: [2]float64{0, 400}, ZeroDate: "2026-02-27", Config: "5f1c0de5"}
	_, got := keys(t, a.JSON())
	for key, want := range map[string]any{"kind": "inclined-reservoir", "liquid": "pale-oil", "quantity": "differential_pressure",
		"unit": "Pa", "range_pa": []any{0.0, 400.0}, "zero_date": "2026-02-27", "config": "5f1c0de5", "schema": 1.0} {
		if !reflect.DeepEqual(got[key], want) {
			t.Errorf("%s: got %v, want %v", key, got[key], want)
		}
	}
	a.Quantity, a.ZeroDate = convert.AbsoluteValue, ""
	if _, got := keys(t, a.JSON()); got["quantity"] != "absolute_pressure" || got["zero_date"] != nil {
		t.Errorf("got %v, want absolute_pressure and no date", got)
	}
	for _, p := range []publish.Presence{publish.Present, publish.Leaving, publish.Lost} {
		_, got := keys(t, p.JSON("rack-pc", "r1", publishtest.Epoch()))
		if got["presence"] != string(p) || got["bridge"] != "rack-pc" || got["run"] != "r1" || got["since"] != "2026-03-01T08:00:00Z" || got["schema"] != 1.0 {
			t.Errorf("%s: got %v", p, got)
		}
	}
}
