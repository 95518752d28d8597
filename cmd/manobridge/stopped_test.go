package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// What a supervisor asks of a daemon: SIGTERM ends it with what was read delivered, and status 0.
func TestTerminatedProgramDelivers(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	presence := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/bench-pc/presence"})
	line := ingesttest.NewLine(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	d := launch(t, program(t), writeConfig(t, line.Path, path, fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\"}", broker.Addr)))
	frames(t, line) // they go on over the end
	subscriber.WaitCount(t, 100)
	d.signal(syscall.SIGTERM)
	if got := d.status(); got != exitDone {
		t.Fatalf("got exit status %d, want %d", got, exitDone)
	}
	now, _ := kept(t, path)
	waitFor(t, subscriber, now)
	presence.Wait(t, "the bridge to say that it leaves", func(m []publishtest.Message) bool {
		return len(m) > 0 && strings.Contains(string(m[len(m)-1].Payload), `"leaving"`)
	})
	if strings.Contains(d.said(), "level=ERROR") || strings.Contains(d.said(), "not delivered") {
		t.Errorf("got an error or results not delivered at a planned stop, want none")
	}
}

// A second signal does not wait for the delivery. What was read stays in the journal.
func TestSecondSignalQuits(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, broker.Addr)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	line := ingesttest.NewLine(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	config := writeConfig(t, line.Path, path, fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\"}", proxy.Addr))
	program := program(t)
	d := launch(t, program, config)
	halt := frames(t, line)
	subscriber.WaitCount(t, 20)
	proxy.Stall() // a delivery that would take the whole drain deadline
	before, _ := kept(t, path)
	publishtest.Eventually(t, "results that wait", func() bool { now, _ := kept(t, path); return len(now) > len(before)+20 })
	d.signal(syscall.SIGTERM)
	d.signal(syscall.SIGINT)
	if got := d.status(); got != exitFailed {
		t.Errorf("got exit status %d after a second signal, want %d", got, exitFailed)
	}
	halt()
	proxy.Refuse()
	proxy.Pass()
	now, _ := kept(t, path)
	d = launch(t, program, config)
	d.says("code=bridge-started")
	waitFor(t, subscriber, now)
}

// Nothing that is missing outside ends the program: broker, store and port are waited for.
func TestMissingOutsideIsWaitedFor(t *testing.T) {
	path := filepath.Join(t.TempDir(), "manobridge.db")
	d := launch(t, program(t), writeConfig(t, filepath.Join(t.TempDir(), "ttyNONE0"), path, fmt.Sprintf(
		"publish:\n  mqtt: {url: \"tcp://%s\"}\n  series: {url: \"http://%s\", org: lab, bucket: pressure}",
		publishtest.FreeAddr(t), publishtest.FreeAddr(t))))
	d.says("code=broker-down")
	d.says("code=sink-down sink=series")
	d.says("code=sink-down sink=mqtt")
	d.signal(syscall.SIGTERM)
	if got := d.status(); got != exitDone {
		t.Errorf("got exit status %d with nothing there, want %d", got, exitDone)
	}
	if now, _ := kept(t, path); len(now) < 2 {
		t.Errorf("got %d results in the journal, want one of each silent instrument", len(now))
	}
}

// What a person must put right ends the program before anything is changed, with the status that is not restarted.
func TestProgramThatCannotStart(t *testing.T) {
	program := program(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	good := writeConfig(t, filepath.Join(t.TempDir(), "ttyNONE0"), path, "")
	holder := launch(t, program, good)
	holder.says("code=bridge-started")

	bad := filepath.Join(t.TempDir(), "bad.yaml")
	text, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(bad, []byte(strings.Replace(string(text), "liquid: pale-oil", "liquid: pale-oyl", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ config, says string }{
		"journal held":  {good, "journal is in use by"},
		"configuration": {bad, "pale-oyl"},
		"no file":       {filepath.Join(t.TempDir(), "none.yaml"), "none.yaml"},
		"no directory":  {writeConfig(t, "/dev/null", filepath.Join(t.TempDir(), "none", "manobridge.db"), ""), "none"},
	} {
		t.Run(name, func(t *testing.T) {
			d := launch(t, program, c.config)
			if got := d.status(); got != exitNotStarted {
				t.Errorf("got exit status %d, want %d", got, exitNotStarted)
			}
			if !strings.Contains(d.said(), c.says) {
				t.Errorf("got %q said, want it to name %q", d.said(), c.says)
			}
		})
	}
	holder.signal(syscall.SIGTERM)
	if got := holder.status(); got != exitDone {
		t.Errorf("got exit status %d of the one that held the journal, want %d", got, exitDone)
	}
}

// Asked to stop while it starts, it stops as asked.
func TestStoppedWhileStarting(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var said strings.Builder
	config := writeConfig(t, filepath.Join(t.TempDir(), "ttyNONE0"), filepath.Join(t.TempDir(), "manobridge.db"), "")
	if got := executeContext(ctx, []string{"run", "-c", config}, streams{strings.NewReader(""), &said, &said}); got != exitDone {
		t.Errorf("got exit status %d, want %d; it said: %s", got, exitDone, said.String())
	}
}
