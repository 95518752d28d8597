package bridge_test

import (
	"strings"
	"testing"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
)

// The cable is pulled and plugged in again under the same name: reading goes on, and the time between is one gap for
// each instrument in the journal.
func TestUnplugAndReplugIsAGap(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, ""))
	opened(t, x, line)
	good := func() uint64 { return x.b.Counts().Good }

	line.Send("02,100.0,21.0\n03,110.0,21.0\n")
	eventually(t, "the first readings", func() bool { return good() == 2 })
	line.Send("02,10") // half a frame goes with the cable
	line.Unplug()
	eventually(t, "both instruments bad", func() bool { return x.b.Counts().Bad >= 2 })
	line.Plug()
	eventually(t, "the port opened again", func() bool { return x.b.Sources()[0].Stats().Open })
	line.Send("\n02,101.0,21.0\n03,111.0,21.0\n")
	eventually(t, "readings after the cable is back", func() bool { return good() == 4 })
	x.end()

	list := rows(t, path)
	if n := causesOf(list); n[""] != 4 || n[convert.PortGone] != 2 {
		t.Errorf("got %v by cause, want 4 good and a port-gone for each instrument", n)
	}
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	gaps, err := r.Gaps(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(gaps) != 2 {
		t.Fatalf("got %d gaps, want one for each instrument: %+v", len(gaps), gaps)
	}
	for _, g := range gaps {
		if g.Cause != convert.PortGone || g.Until.IsZero() || !g.Until.After(g.From) {
			t.Errorf("got gap %+v, want port-gone from the last good reading to the next", g)
		}
	}
	if n := strings.Count(x.log.String(), "it is tried again"); n != 1 {
		t.Errorf("got %d lines of a port that cannot be opened, want it said once:\n%s", n, x.log.String())
	}
}

// What is wrong on the line is refused with its cause; what is right beside it arrives.
func TestBadFramesHarmNothingElse(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, ""))
	opened(t, x, line)
	bad := []struct {
		frame string
		cause convert.Cause // of the instrument's row; empty where nobody can be told whose it was
	}{
		{"02,15O.2,21.0", convert.FrameNumber},
		{"02,1\x005.2,21.0", convert.FrameNUL},
		{"02,150,2,21.0", convert.FrameFields}, // a decimal comma
		{"02,150.2", convert.FrameFields},
		{"02,nan,21.0", convert.FrameNumber},
		{"02,350.0,21.0", convert.LimbOffScale},
		{"02,150.2,85.0", convert.TemperatureRange},
		{"07,150.2,21.0", ""},
		{strings.Repeat("x", 10240), ""},
	}
	line.Send("03,100.0,21.0\n")
	want := map[convert.Cause]int{"": 1}
	for _, b := range bad {
		line.Send(b.frame + "\n03,100.0,21.0\n")
		want[""]++
		if b.cause != "" {
			want[b.cause]++
		}
	}
	eventually(t, "every good frame", func() bool { return x.b.Counts().Good == uint64(want[""]) })
	st := x.b.Sources()[0].Stats()
	x.end()
	got := causesOf(rows(t, path))
	for cause, n := range want {
		if got[cause] < n {
			t.Errorf("got %d results of cause %q, want at least %d (all: %v)", got[cause], cause, n, got)
		}
	}
	for _, row := range rows(t, path) {
		if p, ok := row.Pressure(); ok != (row.Status != convert.Bad) {
			t.Errorf("seq %d of %s: got status %v with pressure %v (%v)", row.Seq, row.Instrument, row.Status, p, ok)
		}
	}
	if st.Unattributed[convert.FrameAddress] != 1 || st.Unattributed[convert.FrameOverlong] != 1 {
		t.Errorf("got unattributed %v, want one foreign address and one frame without an end", st.Unattributed)
	}
}

// A port that is not there is waited for: said once, the instruments bad, and reading begins when it comes.
func TestMissingPortIsWaitedFor(t *testing.T) {
	line := ingesttest.NewUnpluggedLine(t)
	x := start(t, config(t, line.Path, journalPath(t), ""))
	eventually(t, "both instruments bad", func() bool { return x.b.Counts().Bad == 2 })
	line.Plug()
	eventually(t, "the port opened", func() bool { return x.b.Sources()[0].Stats().Open })
	line.Send("\n02,100.0,21.0\n")
	eventually(t, "the first reading", func() bool { return x.b.Counts().Good == 1 })
	x.end()
	log := x.log.String()
	clock := strings.Count(log, "code=clock-unsynchronised") // of this machine, perhaps
	if n := strings.Count(log, "level=WARN") - clock; n > 3 {
		t.Errorf("got %d warnings, want the missing port said once:\n%s", n, log)
	}
}

// opened waits until the bridge listens, and ends the line it may have come into the middle of: what is before the first
// line end is passed over.
func opened(t *testing.T, x *bench, line *ingesttest.Line) {
	t.Helper()
	eventually(t, "the port opened", func() bool { return x.b.Sources()[0].Stats().Open })
	line.Send("\n")
}
