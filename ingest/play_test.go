package ingest_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/ingest/recording"
)

// played puts a recording through a source on its own, and gives what it sent.
func played(t *testing.T, o ingest.Options, text string, before func(time.Duration) bool) (items []ingest.Item, s *ingest.Source, err error) {
	t.Helper()
	s, err = ingest.New(o)
	if err != nil {
		t.Fatal(err)
	}
	out := make(chan ingest.Item, 10_000)
	err = s.Play(t.Context(), recording.Reads(strings.NewReader(text)), before, out)
	close(out)
	for it := range out {
		items = append(items, it)
	}
	ingesttest.CheckLedger(t, items)
	return items, s, err
}

// neverOpened is for a source that plays.
func neverOpened(t *testing.T) ingest.Options {
	return ingesttest.Options(t, ingesttest.NewPort().Open, nil)
}

const recorded = `2025-03-30T00:30:10Z "half,1.5,21\r\n02,1.5"
2025-03-30T00:30:10.5Z ",21\r\n03,2.5,21\r\n"
2025-03-30T00:30:14Z "03,3.5,21\r\n"
2025-03-30T00:30:22Z "02,4.5,21\r\n02,5"
`

// A recording played at once has the times, the intervals and the silences of the line: duct-2 is heard at 10.0 and 22.0
// by the wall clock, duct-3 at 10.5 and 14.0, and 5 s of silence are told when they are over.
func TestPlayedReadingsHaveTheirRecordedTimes(t *testing.T) {
	o := neverOpened(t)
	o.Silence = 5 * time.Second
	began := time.Now()
	items, s, err := played(t, o, recorded, nil)
	if err != nil || time.Since(began) > 4*time.Second {
		t.Fatalf("got %v after %v, want no error and no waiting", err, time.Since(began))
	}
	type row struct {
		name, what string
		since      time.Duration
	}
	var got []row
	first := time.Date(2025, 3, 30, 0, 30, 10, 0, time.UTC)
	for _, it := range items {
		if it.Event != nil {
			continue
		}
		what := string(it.Reading.Frame)
		if it.Reading.Refusal != nil {
			what = string(it.Reading.Refusal.Code)
		}
		got = append(got, row{it.Reading.Instrument, what, it.Reading.SinceStart})
		if want := first.Add(it.Reading.SinceStart); !it.Reading.ReceivedAt.Equal(want) {
			t.Errorf("%s %s: got %v, want %v", it.Reading.Instrument, what, it.Reading.ReceivedAt, want)
		}
	}
	want := []row{
		{"duct-2", "02,1.5,21", 0}, {"duct-3", "03,2.5,21", 500 * time.Millisecond}, {"duct-3", "03,3.5,21", 4 * time.Second},
		{"duct-2", "silence", 5 * time.Second}, {"duct-3", "silence", 9 * time.Second}, {"duct-2", "02,4.5,21", 12 * time.Second},
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if items[0].Event == nil || items[0].Event.Kind != ingest.PortOpened || !items[0].Event.ReceivedAt.Equal(first) {
		t.Errorf("got %+v first, want the opening at the first read", items[0])
	}
	// half,1.5,21 and its line end were joined into, 02,5 was left unfinished.
	if c := s.Stats(); c.Bytes != uint64(len("half,1.5,21\r\n02,1.5,21\r\n03,2.5,21\r\n03,3.5,21\r\n02,4.5,21\r\n02,5")) || c.Good != 4 ||
		c.PassedOver != uint64(len("half,1.5,21\r")+len("02,5")) || c.Refused[convert.Silence] != 2 || c.Open {
		t.Errorf("got %+v, want every byte, 4 good frames and 2 silences", c)
	}
}

// A read that was recorded an hour later than the one before takes as long as its caller waits.
func TestPlayingAsksBeforeEachRead(t *testing.T) {
	var asked []time.Duration
	items, _, err := played(t, neverOpened(t), recorded, func(since time.Duration) bool {
		asked = append(asked, since)
		return since < 12*time.Second
	})
	if want := []time.Duration{0, 500 * time.Millisecond, 4 * time.Second, 12 * time.Second}; err != nil || !slices.Equal(asked, want) {
		t.Errorf("got %v, %v; want %v", asked, err, want)
	}
	for _, it := range items {
		if string(it.Reading.Frame) == "02,4.5,21" {
			t.Error("got the frame of the read that was not allowed")
		}
	}
}

func TestPlayingStopsAtABadLine(t *testing.T) {
	items, _, err := played(t, neverOpened(t), recorded+"rubbish\n", nil)
	var line *recording.LineError
	if !errors.As(err, &line) || line.Line != 5 || len(items) != 5 {
		t.Errorf("got %d items and %v, want the opening and 4 readings, and line 5 named", len(items), err)
	}
}

func TestPlayingEndsWithItsContext(t *testing.T) {
	s, err := ingest.New(neverOpened(t))
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	out := make(chan ingest.Item, 1)
	if err := s.Play(ctx, recording.Reads(strings.NewReader(recorded)), nil, out); err != nil || len(out) != 0 {
		t.Errorf("got %v and %d items, want nothing", err, len(out))
	}
}

// The player of the tests gives the very reads recorded.
func TestPlayerGivesTheReadsRecorded(t *testing.T) {
	path := filepath.Join(t.TempDir(), "line.recording")
	if err := os.WriteFile(path, []byte(recorded), 0o600); err != nil {
		t.Fatal(err)
	}
	port, err := ingesttest.Replay(t, path).Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"half,1.5,21\r\n02,1.5", ",21\r\n03,2.5,21\r\n", "03,3.5,21\r\n", "02,4.5,21\r\n02,5"} {
		b := make([]byte, 512)
		if n, err := port.Read(b); err != nil || string(b[:n]) != want {
			t.Errorf("got %q, %v; want %q", b[:n], err, want)
		}
	}
	if err := port.Close(); err != nil {
		t.Error(err)
	}
}
