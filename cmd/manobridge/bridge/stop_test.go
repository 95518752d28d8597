package bridge_test

import (
	"fmt"
	"strings"
	"testing"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// A planned stop is told from a loss: presence says leaving, every instrument's retained state turns bad, and what was
// read just before is delivered.
func TestPlannedStopSaysLeaving(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	line := ingesttest.NewLine(t)
	x := start(t, config(t, line.Path, journalPath(t), fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\"}", broker.Addr)))
	opened(t, x, line)
	s := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/#"})
	line.Send("02,100.0,21.0\n03,110.0,21.0\n")
	eventually(t, "the readings", func() bool { return x.b.Counts().Good == 2 })
	x.end()
	latest := map[string]string{}
	eventually(t, "the last words", func() bool {
		for _, m := range s.Messages() {
			latest[m.Topic] = string(m.Payload)
		}
		return strings.Contains(latest["manobridge/test-hall/bench-pc/presence"], "leaving")
	})
	for _, in := range []string{"bank-1", "bank-2"} {
		if got := latest["manobridge/test-hall/"+in+"/state"]; !strings.Contains(got, `"status":"bad"`) || !strings.Contains(got, "bridge-stopping") {
			t.Errorf("got the last state of %s %s, want bad by a planned stop", in, got)
		}
		if got := latest["manobridge/test-hall/"+in+"/pressure"]; !strings.Contains(got, "differential_pressure_pa") {
			t.Errorf("got %q of %s, want the reading taken before the stop", got, in)
		}
	}
}
