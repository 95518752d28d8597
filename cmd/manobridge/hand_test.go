package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"manobridge/cmd/manobridge/anew"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// running runs the daemon in this process until the function it returns is called.
func running(t *testing.T, config string) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan int, 1)
	var log syncBuffer
	go func() {
		ended <- executeContext(ctx, []string{"run", "-c", config}, streams{strings.NewReader(""), io.Discard, &log})
	}()
	var once sync.Once
	stop = func() {
		once.Do(func() {
			cancel()
			if status := <-ended; status != exitDone {
				t.Errorf("got status %d from run, want %d:\n%s", status, exitDone, log.String())
			}
		})
	}
	t.Cleanup(stop)
	publishtest.Eventually(t, "the bridge to answer", func() bool {
		status, _, _ := ask(t, "watch", "-c", config, "--once", "--json")
		return status == exitDone
	})
	return stop
}

// syncBuffer is written by one goroutine and read by another.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *syncBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *syncBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// shortDir is a directory with a short path: a socket's may have 107 bytes (unix(7)).
func shortDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "mano")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return dir
}

func viewOf(t *testing.T, config string) (v bridge.View) {
	t.Helper()
	status, out, errs := ask(t, "watch", "-c", config, "--once", "--json")
	if status != exitDone {
		t.Fatalf("got status %d from watch: %s", status, errs)
	}
	if err := json.Unmarshal([]byte(out), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// What a person does by hand, from the command line, on a bridge that reads a real line.
func TestByHandOnARunningBridge(t *testing.T) {
	dir := shortDir(t)
	journal := filepath.Join(dir, "j.db")
	line := ingesttest.NewLine(t)
	config := writeConfig(t, line.Path, journal, "")
	if status, _, errs := ask(t, "watch", "-c", config, "--once"); status != exitNotStarted || !strings.Contains(errs, "no bridge is running") {
		t.Errorf("got status %d and %q, want %d and that no bridge is running", status, errs, exitNotStarted)
	}
	stop := running(t, config)
	publishtest.Eventually(t, "the port", func() bool { v := viewOf(t, config); return len(v.Ports) == 1 && v.Ports[0].Open })
	line.Send("\n02,110.0,20.4\n03,110.0,20.4\n")
	publishtest.Eventually(t, "both readings", func() bool { return viewOf(t, config).Counts.Good == 2 })

	status, out, errs := ask(t, "watch", "-c", config, "--once")
	for _, want := range []string{"bank-1", "bank-2", "good", "port rack-a up, 2 frames, 0 refused", "journal " + journal} {
		if status != exitDone || !strings.Contains(out, want) {
			t.Errorf("watch: got status %d and\n%s%s\nwant %q in it", status, out, errs, want)
		}
	}
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"zero", "bank1", "-c", config, "--why", "a test"}, exitNotStarted, "did you mean bank-1"},
		{[]string{"zero", "bank-1", "-c", config}, exitNotStarted, "--why"},
		{[]string{"zero", "bank-1", "-c", config, "--why", " "}, exitNotStarted, "say why"},
		{[]string{"zero", "bank-1", "-c", config, "--why", "a test"}, exitNotStarted, "--both-ports-open"},
		{[]string{"zero", "bank-1", "-c", config, "--why", "a test", "--both-ports-open", "--for", "2h"}, exitNo, "zero-time"},
		{[]string{"zero", "bank-1", "-c", config, "--why", "a test", "--drop"}, exitNo, "no-zero-taken"},
		{[]string{"service", "bank-1", "-c", config, "--why", "new tube"}, exitNotStarted, "--out"},
		{[]string{"service", "bank-1", "-c", config, "--why", "new tube", "--back"}, exitNo, "not out"},
		{[]string{"service", "bank-1", "-c", config, "--why", "new tube", "--out"}, exitDone, "out for maintenance"},
		{[]string{"check", "-c", config}, exitDone, "new tube"},
		{[]string{"service", "bank-1", "-c", config, "--why", "tube is in", "--back"}, exitDone, "is back"},
		{[]string{"recompute", "-c", config, "--why", "a test", "--publish", "march"}, exitNotStarted, "publish.series"},
		{[]string{"recompute", "-c", config, "--why", "a test", "--instrument", "bank-3"}, exitNotStarted, "did you mean"},
	} {
		status, out, errs := ask(t, c.args...)
		if status != c.status || !strings.Contains(out+errs, c.says) {
			t.Errorf("%q: got status %d and\n%s%s\nwant status %d and %q", c.args, status, out, errs, c.status, c.says)
		}
	}

	// The oil is one of 812 kg/m³ and not of 830: by hand, in package anew, the pressures go as 0.978283. The bridge that runs has
	// the old file; the one who asks has the new.
	fresh := filepath.Join(dir, "new.yaml")
	writeFile(t, fresh, strings.Replace(readAll(t, config), "density_kg_m3: 830.0", "density_kg_m3: 812.0", 1))
	recompute := func(who string) {
		status, out, errs := ask(t, "recompute", "-c", fresh, "--why", "density measured", "--json")
		var r anew.Report
		if err := json.Unmarshal([]byte(out), &r); status != exitDone || err != nil {
			t.Fatalf("%s: got status %d, %v and %s%s", who, status, err, out, errs)
		}
		c := r.Instruments["bank-1"]
		if c == nil || c.Results != 1 || math.Abs(1+c.LargestPa/c.LargestWas-0.978283) > 1e-6 {
			t.Errorf("%s: got %+v, want one result times 0.978283 ± 1e-6 (by hand)", who, c)
		}
	}
	recompute("a bridge that runs")
	stop()
	recompute("nobody beside")
}

func readAll(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// On a terminal the table is drawn over itself.
func TestWatchRedrawsInPlaceOnATerminal(t *testing.T) {
	line := ingesttest.NewLine(t)
	config := writeConfig(t, line.Path, filepath.Join(shortDir(t), "j.db"), "display_unit: hPa")
	running(t, config)
	publishtest.Eventually(t, "the port", func() bool { v := viewOf(t, config); return len(v.Ports) == 1 && v.Ports[0].Open })
	line.Send("\n02,110.0,20.4\n")
	publishtest.Eventually(t, "the reading", func() bool { return viewOf(t, config).Counts.Good == 1 })
	t.Setenv("TERM", "xterm")
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	if err := pty.Setsize(slave, &pty.Winsize{Rows: 40, Cols: 80}); err != nil {
		t.Fatal(err)
	}
	var shown syncBuffer
	copied := make(chan struct{})
	go func() {
		defer close(copied)
		_, _ = io.Copy(&shown, master) // ends with an error when the other end is closed
	}()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan int, 1)
	go func() {
		ended <- executeContext(ctx, []string{"watch", "-c", config}, streams{strings.NewReader(""), slave, io.Discard})
	}()
	publishtest.Eventually(t, "a second drawing over the first", func() bool {
		s := shown.String()
		return strings.Count(s, "bank-1") >= 2 && strings.Contains(s, "A\r") // cursor up (ECMA-48, 8.3.22), and to the left
	})
	cancel()
	if status := <-ended; status != exitDone {
		t.Errorf("got status %d, want %d", status, exitDone)
	}
	if err := slave.Close(); err != nil {
		t.Error(err)
	}
	<-copied
	if err := master.Close(); err != nil {
		t.Error(err)
	}
	// By hand: 99.8 mm · 0.210052 · 828.58 kg/m³ · 9.80715 m/s² = 170.35 Pa.
	for _, want := range []string{"hPa", "1.70", "port rack-a up"} {
		if !strings.Contains(shown.String(), want) {
			t.Errorf("got\n%q\nwant %q in it", shown.String(), want)
		}
	}
}

// What stands below the table, from a state made up.
func TestWatchNotes(t *testing.T) {
	now := time.Date(2026, 3, 9, 10, 0, 30, 0, time.UTC)
	v := bridge.View{Time: now, Started: now.Add(-time.Hour), Site: "north-annex", Bridge: "rack-pc",
		Instruments: []bridge.InstrumentView{
			{Instrument: "hepa-1", Seq: 9, Status: "good", LastGood: now},
			{Instrument: "hepa-2", Seq: 9, Status: "uncertain", Causes: []convert.Cause{convert.LimbAtScaleEnd}, LastGood: now.Add(-90 * time.Second)},
			{Instrument: "hepa-3", Seq: 2, Status: "bad", Causes: []convert.Cause{convert.Silence}, Reason: "no good frame for 10 s"},
			{Instrument: "hepa-4"},
		},
		Ports:   []bridge.PortView{{Port: "rack-a", Open: true, Frames: 120, Refused: 3}, {Port: "rack-b"}},
		Sinks:   []bridge.Delivery{{Sink: "mqtt", Link: "down", Delivered: 5, Waiting: 7, Quarantined: 1}},
		Journal: bridge.JournalView{Path: "manobridge.db", Waiting: 4, Lost: 2, Full: "no space left on device"}}
	got := strings.Join(notesOf(&v), "\n")
	want := `hepa-2: last good 1m30s ago; limb at scale end
hepa-3: no good value in this run; no good frame for 10 s
port rack-a up, 120 frames, 3 refused
port rack-b DOWN, 0 frames, 0 refused
mqtt down, 5 delivered, 7 waiting, 1 put aside
JOURNAL CANNOT BE WRITTEN, 4 results held in memory, 2 lost: no space left on device
clock 2026-03-09T10:00:30Z`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// People read pressures in the unit of their choice, with what it is taken for; other programs get Pa.
func TestCheckShowsTheDisplayUnit(t *testing.T) {
	dir := t.TempDir()
	config := func(unit string) string {
		path := filepath.Join(dir, "bench-"+unit+".yaml")
		writeFile(t, path, strings.Replace(readAll(t, filepath.Join("desk", "testdata", "filter-hall.yaml")), "site:", "display_unit: "+unit+"\nsite:", 1))
		return path
	}
	_, pa, _ := ask(t, "check", "-c", config("Pa"), "--json")
	_, water, _ := ask(t, "check", "-c", config("mmH2O"), "--json")
	var a, b struct {
		Instruments json.RawMessage `json:"instruments"`
	}
	if err := json.Unmarshal([]byte(pa), &a); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(water), &b); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Instruments, b.Instruments) {
		t.Errorf("got\n%s\nwant in JSON the same whatever the unit\n%s", b.Instruments, a.Instruments)
	}
	status, out, errs := ask(t, "check", "-c", config("mmH2O"))
	for _, want := range []string{"mm/mmH2O along", "mmH2O (k = ", "conventional", "1000 kg/m³"} {
		if status != exitDone || !strings.Contains(out, want) {
			t.Errorf("got status %d and\n%s%s\nwant %q in it", status, out, errs, want)
		}
	}
	// 1 mmH2O is 9.80665 Pa by definition (conventional water under standard gravity; NIST SP 811, B.8).
	var first []struct {
		S float64 `json:"sensitivity_mm_per_pa"`
	}
	if err := json.Unmarshal(a.Instruments, &first); err != nil || len(first) == 0 {
		t.Fatal(err)
	}
	if want := fmt.Sprintf("%.4g mm/mmH2O", first[0].S*9.80665); !strings.Contains(out, want) {
		t.Errorf("got\n%s\nwant %q in it", out, want)
	}
}
