package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// command runs one command line in this process.
func command(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = executeContext(t.Context(), args, streams{strings.NewReader(""), &o, &e})
	return status, o.String(), e.String()
}

// allRows reads the journal as another program would.
func allRows(t *testing.T, path string) (list []publish.Row) {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	for row, err := range r.Export(t.Context(), journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, row)
	}
	return list
}

// recordFile writes a recording of an hour ago on: good frames of both instruments every second, one that is refused
// and, from the fifth second to the twentieth, silence.
func recordFile(t *testing.T) (path string, first time.Time) {
	t.Helper()
	first = time.Date(2025, 3, 30, 0, 30, 0, 0, time.UTC)
	var text strings.Builder
	fmt.Fprintf(&text, "%s %q\n", first.Format(time.RFC3339Nano), "cut off\r\n")
	for _, s := range []int{1, 2, 3, 4, 5, 20, 21} {
		fmt.Fprintf(&text, "%s %q\n", first.Add(time.Duration(s)*time.Second).Format(time.RFC3339Nano), fmt.Sprintf("02,%d.5,21.0\r\n03,4", 50+s))
		fmt.Fprintf(&text, "%s %q\n", first.Add(time.Duration(s)*time.Second+500*time.Millisecond).Format(time.RFC3339Nano), fmt.Sprintf("%d.5,21.0\r\n", s%10))
	}
	fmt.Fprintf(&text, "%s %q\n", first.Add(22*time.Second).Format(time.RFC3339Nano), "02,5O.5,21.0\r\n")
	path = filepath.Join(t.TempDir(), "rack-a.recording")
	if err := os.WriteFile(path, []byte(text.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return path, first
}

// A recording goes to the journal with its times and silences, and to the broker late, never live and without a state.
// (The configuration states 5 s of silence.)
func TestPlayedRecordingIsNeverLive(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	s := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/#"})
	capture, first := recordFile(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	config := writeConfig(t, "/dev/none", path, fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\"}", broker.Addr))
	began := time.Now()
	status, out, errs := command(t, "run", "-c", config, "--play", capture, "--fast")
	if status != exitDone {
		t.Fatalf("got status %d: %s", status, errs)
	}
	if took := time.Since(began); took > 15*time.Second {
		t.Errorf("got %v for 22 s played fast, want less", took)
	}
	for _, want := range []string{"16 reads", "15 found, 14 good", "frame-number 1, silence 2", "results: 17, good 14, uncertain 0, bad 3", "mqtt: 17 delivered as late, 0 waiting"} {
		if !strings.Contains(out, want) {
			t.Errorf("got summary\n%s\nwant %q", out, want)
		}
	}
	causes := map[convert.Cause]int{}
	list := allRows(t, path)
	for _, r := range list {
		if !journal.IsPlayed(r.Run) {
			t.Errorf("got run %s, want one that is known as played", r.Run)
		}
		if d := r.ReceivedAt.Sub(first); d.Round(time.Millisecond) != r.SinceStart || d < 0 || d > 22*time.Second {
			t.Errorf("%s seq %d: got %v and %v since the start, want recorded times", r.Instrument, r.Seq, r.ReceivedAt, r.SinceStart)
		}
		if r.Refusal != nil {
			causes[r.Refusal.Code]++
		}
	}
	if len(list) != 17 || causes[convert.Silence] != 2 || causes[convert.FrameNumber] != 1 {
		t.Errorf("got %d rows, refused %v; want 17 with 2 silences and a number", len(list), causes)
	}
	late := 0
	s.Wait(t, "every result", func(m []publishtest.Message) bool {
		late = 0
		for _, one := range m {
			if strings.HasSuffix(one.Topic, "/backlog") {
				late++
			}
		}
		return late >= 17
	})
	for _, m := range s.Messages() {
		if !strings.HasSuffix(m.Topic, "/backlog") && !strings.HasPrefix(m.Topic, "manobridge/test-hall/bench-pc-play/") {
			t.Errorf("got %s: %s, want nothing but late results and the presence of the playing", m.Topic, m.Payload)
		}
	}
}

// started is the log of a bridge, which is asked to stop as soon as it says that it has started.
type started struct {
	mu   sync.Mutex
	b    bytes.Buffer
	stop func()
}

func (s *started) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.b.Write(p)
	if strings.Contains(s.b.String(), "bridge started") {
		s.stop()
	}
	return len(p), nil
}

// The bridge-down gap after a playing begins with the last reading of a run that listened, not with an old recording.
func TestPlayedReadingsBeginNoGap(t *testing.T) {
	capture, _ := recordFile(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	line := ingesttest.NewLine(t)
	config := writeConfig(t, line.Path, path, "")
	for range 2 {
		if status, _, errs := command(t, "run", "-c", config, "--play", capture, "--fast"); status != exitDone {
			t.Fatalf("got status %d: %s", status, errs)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	e := &started{stop: stop}
	if status := executeContext(ctx, []string{"run", "-c", config}, streams{strings.NewReader(""), e, e}); status != exitDone {
		t.Fatalf("got status %d: %s", status, e.b.String())
	}
	_, out, _ := command(t, "export", "-c", config, "--gaps")
	if strings.Contains(out, "bridge-down") || strings.Count(out, "silence") != 4 {
		t.Errorf("got gaps\n%s\nwant the silences of the recording, twice, and no other", out)
	}
	if n := len(allRows(t, path)); n < 34 {
		t.Errorf("got %d rows, want the recording twice", n)
	}
}

func TestPlayAtItsOwnPace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "manobridge.db")
	capture := filepath.Join(t.TempDir(), "short")
	text := "2025-03-30T00:30:00Z \"\\n02,50.5,21.0\\n\"\n2025-03-30T00:30:00.7Z \"02,50.6,21.0\\n\"\n"
	if err := os.WriteFile(capture, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	status, out, errs := command(t, "run", "-c", writeConfig(t, "/dev/none", path, ""), "--play", capture, "--port", "rack-a")
	if took := time.Since(began); status != exitDone || took < 700*time.Millisecond || !strings.Contains(out, "2 good") {
		t.Errorf("got status %d after %v, want %d after at least the 0.7 s recorded: %s%s", status, took, exitDone, out, errs)
	}
}

// What cannot be played is told with its line, and nothing is started: there is no journal afterwards.
func TestWhatCannotBePlayed(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "manobridge.db")
	config := writeConfig(t, "/dev/none", path, "")
	bad := filepath.Join(dir, "bad")
	if err := os.WriteFile(bad, []byte("2025-03-30T00:30:00Z \"x\"\n02,1.5,21\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	good, _ := recordFile(t)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--play", bad}, `bad: line 2 is "02,1.5,21"; a time, a blank and a quoted text are needed`},
		{[]string{"--play", filepath.Join(dir, "none")}, "no such file"},
		{[]string{"--play", good, "--port", "rack-b"}, `no port "rack-b"`},
		{[]string{"--fast"}, "--port and --fast belong to --play"},
	} {
		status, _, errs := command(t, append([]string{"run", "-c", config}, c.args...)...)
		if status != exitNotStarted || !strings.Contains(errs, c.says) {
			t.Errorf("%v: got status %d, %s; want %d and %q", c.args, status, errs, exitNotStarted, c.says)
		}
		if _, err := os.Stat(path); !os.IsNotExist(err) {
			t.Fatalf("%v: a journal was made", c.args)
		}
	}
}

// What listen shows and records of a line is what the bridge makes of the recording.
func TestRecordThenPlay(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := filepath.Join(t.TempDir(), "manobridge.db")
	config := writeConfig(t, line.Path, path, "")
	capture := filepath.Join(t.TempDir(), "rack-a.recording")
	halt := frames(t, line)
	status, shown, errs := command(t, "listen", "-c", config, "--port", "rack-a", "--record", capture, "--for", "700ms")
	halt()
	if status != exitDone {
		t.Fatalf("got status %d: %s", status, errs)
	}
	if status, _, errs := command(t, "listen", "-c", config, "--port", "rack-a", "--record", capture, "--for", "10ms"); status != exitNotStarted || !strings.Contains(errs, "exists") {
		t.Errorf("got status %d, %s; want an earlier recording left alone", status, errs)
	}
	if status, out, errs := command(t, "run", "-c", config, "--play", capture, "--fast"); status != exitDone || !strings.Contains(out, "in place of port rack-a") {
		t.Fatalf("got status %d: %s%s", status, out, errs)
	}
	var before, after []string
	for _, l := range strings.Split(strings.TrimSpace(shown), "\n") {
		before = append(before, strings.Split(l, "  ")[1])
	}
	for _, r := range allRows(t, path) {
		after = append(after, fmt.Sprintf("%+q", r.Frame))
	}
	if len(before) < 10 || strings.Join(before, "\n") != strings.Join(after, "\n") {
		t.Errorf("got in the journal\n%s\nwant what was shown\n%s", strings.Join(after, "\n"), strings.Join(before, "\n"))
	}
}
