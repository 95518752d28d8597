package bridge

import (
	"bytes"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/publish/journal"
)

// shelf is a pair of clocks that stand still until they are moved.
type shelf struct {
	wall    time.Time
	since   time.Duration
	holdups int // how many more reads of the wall clock take a second
}

func (s *shelf) clock() ingest.Clock {
	return ingest.Clock{
		Now: func() time.Time {
			if s.holdups > 0 {
				s.holdups--
				defer s.pass(time.Second)
			}
			return s.wall
		},
		SinceStart: func() time.Duration { return s.since },
	}
}

// pass lets d go by on both.
func (s *shelf) pass(d time.Duration) { s.wall, s.since = s.wall.Add(d), s.since+d }

// watched is a watch on a shelf, with what it logs and records.
func watched(synced func() (yes, known bool)) (s *shelf, w *clockWatch, log *bytes.Buffer, events *[]journal.Event) {
	s = &shelf{wall: time.Date(2025, 3, 30, 0, 30, 0, 0, time.UTC)}
	log, events = &bytes.Buffer{}, &[]journal.Event{}
	w = newClockWatch(s.clock(), slog.New(slog.NewTextHandler(log, nil)), func(e journal.Event) { *events = append(*events, e) })
	w.synced = synced
	return s, w, log, events
}

func unknown() (yes, known bool) { return false, false }

// A step is told from 128 ms on (common practice of NTP daemons, which correct less by a change of rate), once.
func TestClockStepIsToldOnce(t *testing.T) {
	for _, c := range []struct {
		name  string
		steps []time.Duration
		want  []string // sizes in seconds
	}{
		{"none", []time.Duration{0, 0, 0}, nil},
		{"within the threshold", []time.Duration{128 * time.Millisecond, -256 * time.Millisecond}, nil},
		{"above it", []time.Duration{129 * time.Millisecond, 0, 0}, []string{"0.129"}},
		{"an hour back", []time.Duration{0, -time.Hour, 0}, []string{"-3600"}},
		{"a day forward, then back", []time.Duration{24 * time.Hour, 0, -24 * time.Hour}, []string{"86400", "-86400"}},
		{"many small ones", []time.Duration{50 * time.Millisecond, 50 * time.Millisecond, 50 * time.Millisecond, 50 * time.Millisecond}, []string{"0.15"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, w, log, events := watched(unknown)
			for _, d := range c.steps {
				s.pass(time.Second)
				w.look()
				s.wall = s.wall.Add(d)
				w.look()
			}
			lines := strings.Split(strings.TrimSuffix(log.String(), "\n"), "\n")
			if len(c.want) == 0 {
				if log.Len() != 0 || len(*events) != 0 {
					t.Fatalf("got log %q and events %v, want nothing", log, *events)
				}
				return
			}
			if len(lines) != len(c.want) || len(*events) != len(c.want) {
				t.Fatalf("got %d lines and %d events, want %d of each:\n%s", len(lines), len(*events), len(c.want), log)
			}
			for i, size := range c.want {
				if !strings.HasSuffix(lines[i], " size_s="+size) || !strings.Contains(lines[i], " code=clock-step old=2025-") {
					t.Errorf("got %q, want code clock-step with old, new and size_s=%s", lines[i], size)
				}
				if e := (*events)[i]; e.Code != "clock-step" {
					t.Errorf("got event %+v, want clock-step", e)
				}
			}
		})
	}
}

// The line and the event of a step say what the clock would have shown and what it shows.
func TestClockStepSaysOldAndNew(t *testing.T) {
	s, w, log, events := watched(unknown)
	s.pass(10 * time.Second)
	s.wall = s.wall.Add(-time.Hour)
	w.look()
	// 00:30:00, ten seconds later, and that less an hour: the day before.
	if want := "old=2025-03-30T00:30:10Z new=2025-03-29T23:30:10Z size_s=-3600"; !strings.Contains(log.String(), want) {
		t.Errorf("got %q, want %q in it", log, want)
	}
	if len(*events) != 1 {
		t.Fatalf("got %d events, want 1", len(*events))
	}
	e := (*events)[0]
	if !e.Time.Equal(s.wall) || e.SinceStart != 10*time.Second {
		t.Errorf("got event at %v, %v since the start, want %v and 10s", e.Time, e.SinceStart, s.wall)
	}
	if want := "set back by 3600.000 s, from 2025-03-30T00:30:10Z to 2025-03-29T23:30:10Z"; e.Note != want {
		t.Errorf("got note %q, want %q", e.Note, want)
	}
}

// A watch that is held up between the two clocks reads again, and does not take the hold-up for a step.
func TestHoldUpIsNoStep(t *testing.T) {
	for _, holdups := range []int{1, 4, 7} {
		s, w, log, _ := watched(unknown)
		s.pass(time.Second)
		s.holdups = holdups
		w.look()
		w.look()
		if log.Len() != 0 || s.holdups != 0 {
			t.Errorf("%d hold-ups: got %q and %d left, want nothing said and all met", holdups, log, s.holdups)
		}
	}
}

// What the kernel says is told when it changes: at the start only where it is bad, hourly where it is well, and where it
// says nothing, never.
func TestSynchronisationIsToldOnChange(t *testing.T) {
	var yes, known bool
	asked := 0
	s, w, log, events := watched(func() (bool, bool) { asked++; return yes, known })
	look := func(after time.Duration) {
		s.pass(after)
		w.look()
	}
	want := func(when string, asks int, codes ...string) {
		t.Helper()
		var got []string
		for _, e := range *events {
			got = append(got, e.Code)
		}
		if asked != asks || strings.Join(got, " ") != strings.Join(codes, " ") || strings.Count(log.String(), "code=clock-") != len(codes) {
			t.Fatalf("%s: got %d questions, events %v and log:\n%swant %d questions and %v in both", when, asked, got, log, asks, codes)
		}
	}
	look(0)
	want("nothing known", 1)
	yes, known = true, true
	look(time.Minute)
	want("not asked again within the hour", 1)
	look(time.Hour)
	want("synchronised", 2)
	yes = false
	look(time.Hour)
	want("lost", 3, "clock-unsynchronised")
	look(time.Second)
	look(time.Minute)
	want("still lost", 4, "clock-unsynchronised")
	known = false
	look(time.Minute)
	want("nothing known in between", 5, "clock-unsynchronised")
	yes, known = true, true
	look(time.Hour)
	want("back", 6, "clock-unsynchronised", "clock-synchronised")
	if n := strings.Count(log.String(), "level=WARN"); n != 1 {
		t.Errorf("got %d warnings, want one:\n%s", n, log)
	}
}

// Not synchronised from the start is told at the first look.
func TestUnsynchronisedStartIsTold(t *testing.T) {
	_, w, log, events := watched(func() (bool, bool) { return false, true })
	w.look()
	if len(*events) != 1 || (*events)[0].Code != "clock-unsynchronised" || strings.Count(log.String(), "level=WARN") != 1 {
		t.Errorf("got events %+v and log %q, want clock-unsynchronised in both", *events, log)
	}
}

// Times of day are not sure until the clock has been synchronised for the first time, and are from then on, also when it
// is lost again later. Where it was from the start, or nothing is known, nothing is marked.
func TestReadingsBeforeTheFirstSynchronisationAreMarked(t *testing.T) {
	var yes, known bool
	s, w, _, _ := watched(func() (bool, bool) { return yes, known })
	marked := func(at time.Duration) bool {
		r := convert.Result{Reading: convert.Reading{SinceStart: at}, Kind: convert.DifferentialValue, Differential: 160}
		w.mark(&r)
		if pa, ok := r.Pressure(); !ok || pa != 160 || r.Status != convert.Good || r.StatusCode != 0 || r.NE107 != convert.NoSignal || r.Refusal != nil {
			t.Errorf("at %v: got %+v, want the pressure untouched and good", at, r)
		}
		return slices.Equal(r.Causes, []convert.Cause{convert.ClockUncertain})
	}
	known = true
	w.begin()
	w.look()
	s.pass(10 * time.Second)
	w.look()
	if !marked(0) || !marked(10*time.Second) || !marked(time.Hour) {
		t.Error("not synchronised: got readings without the mark, want all marked")
	}
	yes = true
	s.pass(time.Second)
	w.look() // within a second of it, not a minute
	if !marked(10*time.Second) || marked(11*time.Second) || marked(time.Hour) {
		t.Error("synchronised after 11 s: want what came before marked, and nothing after")
	}
	yes = false
	s.pass(2 * time.Hour)
	w.look()
	if marked(3 * time.Hour) {
		t.Error("lost later: got a mark, want none: the clock was right and drifts slowly")
	}
	for _, from := range []struct{ yes, known bool }{{true, true}, {false, false}} {
		yes, known = from.yes, from.known
		s, w, _, _ = watched(func() (bool, bool) { return yes, known })
		w.begin()
		yes, known = false, true
		s.pass(2 * time.Hour)
		w.look()
		if marked(3 * time.Hour) {
			t.Errorf("from the start %+v: got a mark, want none", from)
		}
	}
}

// A value that is uncertain or bad for another reason stays so, with that reason first.
func TestClockMarkComesBehindWorse(t *testing.T) {
	_, w, _, _ := watched(func() (bool, bool) { return false, true })
	w.begin()
	r := convert.Result{Reading: convert.Reading{Refusal: &convert.Refusal{Code: convert.Silence}}, Status: convert.Bad, StatusCode: 0x80310000,
		NE107: convert.Failure, Causes: []convert.Cause{convert.Silence}}
	w.mark(&r)
	if !slices.Equal(r.Causes, []convert.Cause{convert.Silence, convert.ClockUncertain}) || r.Status != convert.Bad || r.StatusCode != 0x80310000 || r.NE107 != convert.Failure || r.Refusal.Code != convert.Silence {
		t.Errorf("got %+v, want silence to stay first", r)
	}
}

// A sleep that the clock tells of is told as what it is, and is no step: both clocks went on in it.
func TestSleepIsToldOnceAndIsNoStep(t *testing.T) {
	s, _, log, events := watched(unknown)
	var slept time.Duration
	c := s.clock()
	c.Slept = func() time.Duration { return slept }
	w := newClockWatch(c, slog.New(slog.NewTextHandler(log, nil)), func(e journal.Event) { *events = append(*events, e) })
	w.synced = unknown
	s.pass(time.Second)
	w.look()
	slept = 8 * time.Hour
	s.pass(slept + time.Second)
	w.look()
	s.pass(time.Second)
	w.look()
	if len(*events) != 1 || (*events)[0].Code != "machine-slept" || (*events)[0].Note != "slept for 28800.000 s" || strings.Count(log.String(), "level=WARN") != 1 ||
		!strings.Contains(log.String(), "code=machine-slept slept_s=28800") {
		t.Errorf("got events %+v and log\n%swant machine-slept of 28800 s in both, once", *events, log)
	}
}
