package recording_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"manobridge/ingest/recording"
)

// Whatever was read comes back byte for byte, in the same pieces, at the same times.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pieces := rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), 1, 600), 1, 20).Draw(t, "pieces")
		at := time.Date(2025, 3, 30, 0, 30, 0, 0, time.UTC)
		var times []time.Time
		var file bytes.Buffer
		for _, p := range pieces {
			at = at.Add(time.Duration(rapid.Int64Range(0, 1e12).Draw(t, "pause")))
			times = append(times, at)
			if err := recording.Write(&file, at, p); err != nil {
				t.Fatal(err)
			}
		}
		i := 0
		for r, err := range recording.Reads(&file) {
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(r.Bytes, pieces[i]) || !r.At.Equal(times[i]) || r.Since != times[i].Sub(times[0]) {
				t.Fatalf("read %d: got %v after %v with %q, want %v after %v with %q", i, r.At, r.Since, r.Bytes, times[i], times[i].Sub(times[0]), pieces[i])
			}
			i++
		}
		if i != len(pieces) {
			t.Fatalf("got %d reads, want %d", i, len(pieces))
		}
	})
}

func TestBadLinesAreNamed(t *testing.T) {
	const good = "2025-03-30T00:30:10.25Z \"02,110.5,21.0\\r\\n\"\n"
	for _, c := range []struct{ text, says string }{
		{good + "02,110.5,21.0\n", `line 2 is "02,110.5,21.0"; a time, a blank and a quoted text are needed`},
		{good + good + "30.3.2025 \"x\"\n", `line 3 begins with "30.3.2025", which is no time`},
		{"2025-03-30T00:30:10 \"x\"\n", "line 1 begins with"}, // no zone
		{"2025-03-30T00:30:10Z x\n", `line 1 has "x" behind the time`},
		{"2025-03-30T00:30:10Z \"x\n", "line 1 has"},
		{"2025-03-30T00:30:10Z \"\\q\"\n", "with backslashes"},
		{"2025-03-30T00:30:10Z 'x'\n", "no text in double quotes"},
		{"2025-03-30T00:30:10Z \"\"\n", "line 1 holds no bytes"},
		{good + good[:20], "line 2 has no line end: the recording was cut off there"},
		{good + strings.Repeat("x", 1<<17) + "\n", "line 2 is longer than"},
		{"\n", "line 1 is \"\""},
		{"", "holds nothing"},
	} {
		_, err := recording.Check(strings.NewReader(c.text))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.60q: got %v, want %q", c.text, err, c.says)
		}
	}
	var line *recording.LineError
	if _, err := recording.Check(strings.NewReader(good + "?\n")); !errors.As(err, &line) || line.Line != 2 {
		t.Errorf("got %v, want a LineError of line 2", err)
	}
}

// A clock that is set back while recording makes no interval negative, and is counted; times of day stay as recorded.
func TestClockSetBackWhileRecording(t *testing.T) {
	const text = "2025-03-30T01:00:00Z \"a\"\n2025-03-30T01:00:02Z \"b\"\n2025-03-30T00:00:03Z \"c\"\n2025-03-30T00:00:04+00:00 \"d\"\r\n"
	var since []time.Duration
	for r, err := range recording.Reads(strings.NewReader(text)) {
		if err != nil {
			t.Fatal(err)
		}
		since = append(since, r.Since)
	}
	for i, want := range []time.Duration{0, 2 * time.Second, 2 * time.Second, 3 * time.Second} {
		if since[i] != want {
			t.Errorf("read %d: got %v, want %v", i+1, since[i], want)
		}
	}
	s, err := recording.Check(strings.NewReader(text))
	if err != nil || s.SetBack != 1 || s.Reads != 4 || s.Bytes != 4 || s.Lasts != 3*time.Second || !s.Last.Equal(time.Date(2025, 3, 30, 0, 0, 4, 0, time.UTC)) {
		t.Errorf("got %+v, %v; want 4 reads of a byte over 3 s, the clock set back once", s, err)
	}
}

// Anything may stand in the file. What is taken can be written and taken again as the same.
func FuzzReads(f *testing.F) {
	f.Add([]byte("2025-03-30T00:30:10.25Z \"02,110.5,21.0\\r\\n\"\n"))
	f.Add([]byte("2025-03-30T02:30:10+02:00 \"\\x00\\u00b0\"\r\n2025-03-30T00:30:09Z \"b\"\n"))
	f.Add([]byte("9999-12-31T23:59:59.999999999Z \"\\377\"\n0000-01-01T00:00:00Z \"x\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		var again bytes.Buffer
		var before []recording.Read
		for r, err := range recording.Reads(bytes.NewReader(data)) {
			if err != nil {
				break
			}
			if len(r.Bytes) == 0 || r.Since < 0 {
				t.Fatalf("got a read of %d bytes after %v", len(r.Bytes), r.Since)
			}
			before = append(before, r)
			if err := recording.Write(&again, r.At, r.Bytes); err != nil {
				t.Fatal(err)
			}
		}
		i := 0
		for r, err := range recording.Reads(&again) {
			if err != nil {
				t.Fatalf("read %d: %v", i, err)
			}
			if !r.At.Equal(before[i].At) || !bytes.Equal(r.Bytes, before[i].Bytes) || r.Since != before[i].Since {
				t.Fatalf("read %d: got %+v, want %+v", i, r, before[i])
			}
			i++
		}
		if i != len(before) {
			t.Fatalf("got %d reads again, want %d", i, len(before))
		}
	})
}
