package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// hall is a bridge run by its own command, with a limit, a real broker and a line.
type hall struct {
	t      *testing.T
	config string
	line   *ingesttest.Line
	stop   func()
}

// limitedHall writes the configuration of a hall.
func limitedHall(t *testing.T, broker, delay string) *hall {
	t.Helper()
	h := &hall{t: t, config: filepath.Join(t.TempDir(), "hall.yaml"), line: ingesttest.NewLine(t)}
	text := fmt.Sprintf(`site: packing-hall
bridge: suite-3
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 20.0, pressure_hpa: 955.0, relative_humidity_pct: 45}
ports:
  suite: {device: %q, baud: 19200, frame: {format: delimited, fields: [low_mm, temperature_c]}, silence: 60s}
instruments:
  filling: {port: suite, liquid: "lubricating-oil:850", geometry: {kind: inclined-reservoir, slope_ratio: 0.1, bore_mm: 3.5, reservoir_bore_mm: 60.0, scale_mm: [-30, 320]}, zero: {low_mm: 0, temperature_c: 20.0}}
limits:
  filling-pressure: {of: filling, low: 12 Pa, deadband: 0.5 Pa, decision: simple-acceptance, priority: medium, class: cleanroom, response: close the doors, latch: true, shelve_at_most: 1h,
    on_delay: {time: DELAY, rationale: a test}}
publish: {mqtt: {url: "tcp://%s"}}
journal: {path: %q}
`, h.line.Path, broker, filepath.Join(t.TempDir(), "hall.db"))
	text = strings.Replace(text, "DELAY", delay, 1)
	if err := os.WriteFile(h.config, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return h
}

// newHall runs the bridge in this process.
func newHall(t *testing.T, broker string) *hall {
	t.Helper()
	h := limitedHall(t, broker, "0s")
	ctx, cancel := context.WithCancel(context.Background())
	var log bytes.Buffer
	done := make(chan int, 1)
	go func() {
		done <- executeContext(ctx, []string{"run", "-c", h.config}, streams{strings.NewReader(""), &log, &log})
	}()
	h.stop = sync.OnceFunc(func() {
		cancel()
		if status := <-done; status != exitDone {
			t.Errorf("run ended with status %d:\n%s", status, log.String())
		}
	})
	t.Cleanup(h.stop)
	return h
}

// does runs one command and gives its exit status and what it printed.
func (h *hall) does(args ...string) (int, string) {
	var out, errs bytes.Buffer
	status := executeContext(context.Background(), append(args, "-c", h.config), streams{strings.NewReader(""), &out, &errs})
	return status, out.String() + errs.String()
}

func (h *hall) wants(status int, text string, args ...string) string {
	h.t.Helper()
	got, said := h.does(args...)
	if got != status || !strings.Contains(said, text) {
		h.t.Errorf("%s: got status %d and\n%s\nwant status %d and %q", strings.Join(args, " "), got, said, status, text)
	}
	return said
}

// sees sends a reading until the limit stands as wanted.
func (h *hall) sees(mm float64, state, verdict string) {
	h.t.Helper()
	said := ""
	defer func() {
		if h.t.Failed() {
			h.t.Log(said)
		}
	}()
	publishtest.Eventually(h.t, "the state "+state, func() bool {
		h.line.Send(fmt.Sprintf("%.2f,20.0\n", mm))
		_, said = h.does("alarm", "list", "--json")
		return strings.Contains(said, fmt.Sprintf("%q:%q", "state", state)) && strings.Contains(said, fmt.Sprintf("%q:%q", "verdict", verdict))
	})
}

// What a person does about a limit, from the alarm to the record, with the commands alone. 20 mm are 17 Pa, 10 mm 8.6 Pa.
func TestAlarmsByHand(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	h := newHall(t, broker.Addr)
	h.sees(20, "normal", "inside")
	h.wants(exitDone, "inside", "alarm", "list")
	h.wants(exitNo, "nothing-to-acknowledge", "alarm", "acknowledge", "filling-pressure", "--why", "a test")
	h.wants(exitNotStarted, "did you mean filling-pressure?", "alarm", "acknowledge", "filing-pressure", "--why", "a test")
	h.wants(exitNotStarted, "--why is empty", "alarm", "reset", "filling-pressure", "--why", " ")

	h.wants(exitDone, "is proved", "alarm", "prove", "filling-pressure", "--why", "yearly test")
	h.wants(exitDone, "inside", "alarm", "list") // the limit itself was not touched

	h.sees(10, "unacknowledged", "outside")
	h.wants(exitNo, "outside", "alarm", "list")
	h.wants(exitDone, "is now acknowledged", "alarm", "acknowledge", "filling-pressure", "--why", "door found open")
	h.wants(exitNo, "still-active", "alarm", "reset", "filling-pressure", "--why", "a test")
	h.wants(exitNotStarted, "say for how long", "alarm", "shelve", "filling-pressure", "--why", "a test")
	h.wants(exitNo, "shelved-too-long", "alarm", "shelve", "filling-pressure", "--for", "2h", "--why", "a test")
	h.wants(exitDone, "is now shelved", "alarm", "shelve", "filling-pressure", "--for", "30m", "--why", "fitter at work")
	h.wants(exitDone, "is now unacknowledged", "alarm", "unshelve", "filling-pressure", "--why", "fitter has gone")
	h.wants(exitDone, "is now acknowledged", "alarm", "acknowledge", "filling-pressure", "--why", "seen")
	h.sees(20, "latched-acknowledged", "inside")
	h.wants(exitDone, "is now normal", "alarm", "reset", "filling-pressure", "--why", "door closer mended")
	h.wants(exitDone, "is now out-of-service", "alarm", "out-of-service", "filling-pressure", "--why", "yearly work")
	h.wants(exitDone, "is now normal", "alarm", "back-in-service", "filling-pressure", "--why", "done")

	excursions := h.wants(exitDone, "12 Pa", "alarm", "excursions")
	if strings.Count(excursions, "filling-pressure") != 1 {
		t.Errorf("got\n%s\nwant one excursion", excursions)
	}
	said := h.wants(exitDone, "", "alarm", "figures", "--json")
	var f struct{ Annunciations int }
	if err := json.Unmarshal([]byte(said), &f); err != nil || f.Annunciations != 2 { // raised, and called again when it was unshelved
		t.Errorf("got %d annunciations (%v), want 2: neither the proof test nor what people did count", f.Annunciations, err)
	}
	h.wants(exitDone, "wanted", "alarm", "figures", "--since", "24h")

	// The record: the configuration, the proof test, and ten acts; its anchor on the broker.
	h.wants(exitDone, "entries, each following", "audit", "verify")
	var whole, anchor acts.Anchor
	if err := json.Unmarshal([]byte(h.wants(exitDone, "", "audit", "verify", "--json")), &whole); err != nil {
		t.Fatal(err)
	}
	topic := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/packing-hall/suite-3/acts"}).Wait(t, "the anchor of the last act", func(m []publishtest.Message) bool {
		return len(m) > 0 && json.Unmarshal(m[len(m)-1].Payload, &anchor) == nil && anchor.Count == whole.Count
	})
	h.wants(exitDone, "the anchored one", "audit", "verify", "--anchor", string(topic[len(topic)-1].Payload))
	h.wants(exitDone, "the anchored one", "audit", "verify", "--anchor", fmt.Sprintf("%d:%s", anchor.Count, anchor.Head))
	h.wants(exitNo, "its end was cut off", "audit", "verify", "--anchor", fmt.Sprintf("%d:%s", anchor.Count+1, anchor.Head))
	h.wants(exitNotStarted, "64 hexadecimal digits", "audit", "verify", "--anchor", "3:abc")
	csv := h.wants(exitDone, "proof-test,filling-pressure", "audit", "export")
	if got := strings.Count(csv, "\n"); got != int(anchor.Count)+1 {
		t.Errorf("got %d lines of CSV, want a head and %d entries", got, anchor.Count)
	}
	h.stop()
	h.wants(exitNotStarted, "no bridge", "alarm", "list")
	h.wants(exitDone, "filling-pressure", "alarm", "excursions", "--since", time.Now().Add(-time.Hour).UTC().Format(time.RFC3339))
}
