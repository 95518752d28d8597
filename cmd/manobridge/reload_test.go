package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// ledgerOf writes numbered frames, no two alike, and gives them in order by address once halted. The line must be read.
func ledgerOf(t *testing.T, line *ingesttest.Line) (halt func() map[string][]string) {
	t.Helper()
	written := map[string][]string{}
	stop, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(4 * time.Millisecond) // 500 readings a second from two instruments
		defer tick.Stop()
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			for _, address := range []string{"02", "03"} {
				frame := fmt.Sprintf("%s,%.2f,%.3f", address, 20+float64(i%2500)/100, 21+float64(i/2500)/1000)
				if _, err := fmt.Fprintf(line.Master(), "%s\n", frame); err != nil {
					t.Errorf("write frames: %v", err)
					return
				}
				written[address] = append(written[address], frame)
			}
		}
	}()
	return func() map[string][]string { close(stop); <-ended; return written }
}

// Fifty times SIGHUP under load, half of them with files that cannot be applied: no byte of the line is lost, every reading
// has the next number and is delivered, and the log tells each.
func TestFiftyReloadsUnderLoad(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	store := publishtest.VictoriaMetrics(t)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	states := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bank-3/state"})
	alarm := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bank-1-pressure/alarm"})
	line := ingesttest.NewLine(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	config := writeConfig(t, line.Path, path, fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\", backlog_per_s: 100000}\n  series: {url: %q, bucket: pressure}", broker.Addr, store.URL()))
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	good := string(text)
	third := `  bank-3:
    port: rack-a
    address: "04"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
publish:
`
	const limit = `limits:
  bank-1-pressure:
    of: bank-1
    low: 15 Pa
    deadband: 0.5 Pa
    decision: simple-acceptance
    on_delay: {time: 30s, rationale: "a door that is passed"}
    off_delay: {time: 10s, rationale: "one change of the air"}
    priority: medium
    class: cleanroom
    group: air-handler
    response: "Close the doors."
    reference: {document: "control strategy", version: "1"}
`
	change := func(old, now string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("the configuration has no %q", old)
		}
		return strings.Replace(good, old, now, 1)
	}
	// What is wrong, and what the log must name.
	wrong := []struct{ text, says string }{
		{change("site: test-hall", "site: [test-hall"), "is not YAML"},
		{change("slope_deg", "slop_deg"), "slop_deg"},
		{change("liquid: pale-oil", "liquid: pale-oyl"), "pale-oyl"},
		{change("slope_deg: 11.54", "slope_deg: -4"), "slope_deg"},
		{change("site: test-hall", "site: other-hall"), "site"},
		{change("journal: {path: ", "journal: {durability: relaxed, path: "), "journal"},
		{change("zero: {low_mm: 10.2, ", "zero: {low_mm: 10.2, tilt_deg: 1, ") + "", "tilt_deg"},
		{change("bucket: pressure", "bucket: pressure, token_file: "+filepath.Join(t.TempDir(), "none")), "token_file"},
		{"", "empty"},
	}
	d := launch(t, program(t), config)
	d.says("port is open")
	publishtest.Eventually(t, "the first reading", func() bool {
		line.Send("02,20.00,20.000\n03,20.00,20.000\n")
		now, _ := kept(t, path)
		return len(now) > 0
	})
	halt := ledgerOf(t, line)
	reload := func(text, code string) string {
		t.Helper()
		if err := os.WriteFile(config, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		said := d.said()
		d.signal(syscall.SIGHUP)
		mark := "code=" + code
		publishtest.Eventually(t, "the log tells of a reload", func() bool {
			now := d.said()[len(said):]
			return strings.Contains(now, "code=config-reloaded") || strings.Contains(now, "code=reload-refused")
		})
		now := d.said()[len(said):]
		if !strings.Contains(now, mark) {
			t.Fatalf("got %q after SIGHUP, want %s", now, mark)
		}
		return now
	}
	for i := range 25 {
		w := wrong[i%len(wrong)]
		if now := reload(w.text, "reload-refused"); !strings.Contains(now, w.says) {
			t.Errorf("got %q, want it to name %q", now, w.says)
		}
		switch i % 5 {
		case 0:
			reload(change("zero: {low_mm: 10.2", fmt.Sprintf("zero: {low_mm: %.2f", 10.3+float64(i)/100)), "config-reloaded")
		case 1:
			reload(change("publish:\n", third), "config-reloaded")
		case 2:
			reload(good+limit, "config-reloaded")
		case 3: // the connection to the broker is made anew
			reload(change("backlog_per_s: 100000", fmt.Sprintf("backlog_per_s: 100000, live_within: %ds", 6+i)), "config-reloaded")
		case 4:
			reload(change("pressure_hpa: 962.0", fmt.Sprintf("pressure_hpa: %d", 950+i)), "config-reloaded")
		}
	}
	written := halt()
	frames := map[string][]string{}
	publishtest.Eventually(t, "every frame in the journal", func() bool {
		now, _ := kept(t, path)
		frames = framesOf(now)
		return len(frames["02"])+len(frames["03"]) >= len(written["02"])+len(written["03"])
	})
	d.signal(syscall.SIGTERM)
	if got := d.status(); got != exitDone {
		t.Errorf("got exit status %d, want %d", got, exitDone)
	}
	now, _ := kept(t, path)
	for address, want := range written {
		if got := frames[address]; !slices.Equal(got, want) {
			t.Errorf("address %s: got %d frames in the journal, want the %d that were written, in order", address, len(got), len(want))
		}
	}
	sets := numbered(t, now)
	if len(sets["bank-1"]) < 5 {
		t.Errorf("got results of %d coefficient sets of bank-1, want one of each change", len(sets["bank-1"]))
	}
	waitFor(t, subscriber, now)
	publishtest.Eventually(t, "every good result in the store", func() bool {
		return len(publishtest.ReadVictoriaMetrics(t, store, "manometer")) > 0
	})
	alarm.Wait(t, "the word on a limit that a reload brought", func(list []publishtest.Message) bool {
		return len(list) > 0 && len(list[0].Payload) > 0
	})
	states.Wait(t, "the last word on an instrument that was taken out", func(list []publishtest.Message) bool {
		return slices.ContainsFunc(list, func(m publishtest.Message) bool { return strings.Contains(string(m.Payload), "not-configured") })
	})
	t.Logf("%d results, %d coefficient sets of bank-1", len(now), len(sets["bank-1"]))
	if strings.Contains(d.said(), "port-gone") || strings.Contains(d.said(), "port is open again") {
		t.Error("got a port that was closed, want it open all the time: its settings did not change")
	}
}

// framesOf gives the frames of the ledger in the order of their numbers.
func framesOf(rows map[convert.Name]publish.Row) map[string][]string {
	by := map[string][]publish.Row{}
	for _, r := range rows {
		if address, rest, _ := strings.Cut(string(r.Frame), ","); address != "" && !strings.Contains(rest, ",20.000") {
			by[address] = append(by[address], r)
		}
	}
	frames := map[string][]string{}
	for address, list := range by {
		slices.SortFunc(list, func(a, b publish.Row) int { return int(a.Seq) - int(b.Seq) })
		for _, r := range list {
			frames[address] = append(frames[address], strings.TrimSpace(string(r.Frame)))
		}
	}
	return frames
}

// numbered demands that each instrument's numbers go up by one from 1, and gives the coefficient sets used.
func numbered(t *testing.T, rows map[convert.Name]publish.Row) map[string]map[string]bool {
	t.Helper()
	most, count, sets := map[string]uint64{}, map[string]uint64{}, map[string]map[string]bool{}
	for name, r := range rows {
		most[name.Instrument] = max(most[name.Instrument], name.Seq)
		count[name.Instrument]++
		if sets[name.Instrument] == nil {
			sets[name.Instrument] = map[string]bool{}
		}
		sets[name.Instrument][r.Config] = true
	}
	for instrument, last := range most {
		if count[instrument] != last {
			t.Errorf("%s: got %d readings numbered up to %d, want every number once", instrument, count[instrument], last)
		}
	}
	return sets
}
