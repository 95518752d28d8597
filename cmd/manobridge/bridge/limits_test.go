package bridge_test

import (
	"encoding/json"
	"fmt"
	"net"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/configs"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// limited is the configuration of the bench with a limit on bank-1: 100 mm there are about 145 Pa, 200 mm about 305 Pa.
func limited(t *testing.T, device, path, broker string) *configs.Config {
	t.Helper()
	c := config(t, device, path, fmt.Sprintf(`publish: {mqtt: {url: "tcp://%s", requests: [anna]}}
limits:
  bank-1-loaded: {of: bank-1, high: 250 Pa, deadband: 5 Pa, decision: simple-acceptance, priority: medium, class: filters, response: change the filter,
    on_delay: {time: 300ms, rationale: a test}, shelve_at_most: 1h, fault: {on_delay: 0s}}
`, broker))
	c.Ports[0].Silence = configs.Duration(patience) // the test pauses as long as the machine does
	return c
}

type word struct {
	State, Verdict, Fault string
	Occurrence            uint64
	ValuePa               float64 `json:"value_pa"`
}

func lastWord(t *testing.T, messages []publishtest.Message) word {
	t.Helper()
	var w word
	if len(messages) == 0 {
		return w
	}
	if err := json.Unmarshal(messages[len(messages)-1].Payload, &w); err != nil {
		t.Fatal(err)
	}
	return w
}

// The whole way: frames on a line, a limit, a broker written by others, a subscriber of its making that comes late, a request
// from its publisher, the record of acts; then the bridge is stopped and the state is as before.
func TestAlarmLivesOnItsTopics(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, limited(t, line.Path, path, broker.Addr))
	opened(t, x, line)
	root := "manobridge/test-hall/bank-1-loaded/"
	events := publishtest.Subscribe(t, broker.Addr, []string{root + "event"})
	sends := func(mm float64) func() bool {
		return func() bool {
			line.Send(fmt.Sprintf("02,%.1f,21.0\n", mm))
			return false
		}
	}
	until := func(what string, send func() bool, cond func() bool) {
		t.Helper()
		tick := time.NewTicker(50 * time.Millisecond)
		defer tick.Stop()
		limit := time.After(patience)
		for !cond() {
			select {
			case <-tick.C:
				send()
			case <-limit:
				t.Fatalf("%s did not come in %v\n%s", what, patience, x.log.String())
			}
		}
	}
	until("the first reading", sends(100), func() bool { return x.b.Counts().Good > 0 })
	until("the alarm", sends(200), func() bool { return len(events.Messages()) > 0 })

	// One that comes late sees at once how the limit stands.
	states := publishtest.Subscribe(t, broker.Addr, []string{root + "alarm"})
	got := states.WaitCount(t, 1)
	if w := lastWord(t, got[:1]); !got[0].Retained || w.State != "unacknowledged" || w.Verdict != "outside" || w.Occurrence != 1 || w.ValuePa < 250 {
		t.Fatalf("got %s, retained %v, want an alarm that is not acknowledged, retained", got[0].Payload, got[0].Retained)
	}

	// It is acknowledged by the broker's own publisher.
	replies := publishtest.Subscribe(t, broker.Addr, []string{root + "reply"})
	ask := fmt.Sprintf(`{"id":"a1","act":"acknowledge","why":"filter on order","expires":%q,"occurrence":1}`, time.Now().Add(time.Minute).UTC().Format(time.RFC3339))
	host, port, err := net.SplitHostPort(broker.Addr)
	if err != nil {
		t.Fatal(err)
	}
	for _, user := range []string{"ben", "anna"} {
		out, err := exec.Command(publishtest.Binary(t, "mosquitto_pub"), "-h", host, "-p", port, "-q", "1", "-t", root+"request/"+user, "-m", ask).CombinedOutput()
		if err != nil {
			t.Fatalf("mosquitto_pub: %v\n%s", err, out)
		}
	}
	answers := replies.WaitCount(t, 2)
	slices.SortFunc(answers, func(a, b publishtest.Message) int { return strings.Compare(string(a.Payload), string(b.Payload)) })
	if text := string(answers[0].Payload) + string(answers[1].Payload); !strings.Contains(text, `"user":"ben","done":false,"code":"no-user"`) || !strings.Contains(text, `"user":"anna","done":true`) {
		t.Errorf("got %s, want ben refused and anna's done", text)
	}
	publishtest.Eventually(t, "the new word", func() bool { return lastWord(t, states.Messages()).State == "acknowledged" })
	x.end()

	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	report, err := acts.Verify(r.Acts(t.Context(), 0), nil)
	var what []string
	for a, err := range r.Acts(t.Context(), 0) {
		if err != nil {
			t.Fatal(err)
		}
		what = append(what, a.Who+" "+a.What+" "+a.Subject)
	}
	if err != nil || report.Problem != "" || !slices.Equal(what, []string{"bridge configuration bench-pc", "anna acknowledge bank-1-loaded"}) {
		t.Errorf("got acts %q (%+v, %v), want the configuration and the acknowledgement", what, report, err)
	}
	excursions, err := r.Excursions(t.Context(), "bank-1-loaded", time.Time{})
	if err != nil || len(excursions) != 1 {
		t.Errorf("got %d excursions (%v), want one", len(excursions), err)
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}

	// The anchor of the record is on a retained topic.
	anchored := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bench-pc/acts"}).WaitCount(t, 1)
	var anchor acts.Anchor
	if err := json.Unmarshal(anchored[0].Payload, &anchor); err != nil || anchor.Count != 2 || anchor.Head != report.Head {
		t.Errorf("got anchor %s, want the head of two acts", anchored[0].Payload)
	}

	again := start(t, limited(t, line.Path, path, broker.Addr))
	publishtest.Eventually(t, "the word after a restart", func() bool {
		w := lastWord(t, states.Messages())
		return w.State == "acknowledged" && w.Verdict == "cannot-tell"
	})
	opened(t, again, line)
	until("the alarm that goes", sends(100), func() bool { return lastWord(t, states.Messages()).State == "normal" })
}
