package journal_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// change rewrites a closed file.
func change(t *testing.T, path string, f func(b []byte) []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, f(b), 0o600); err != nil {
		t.Fatal(err)
	}
}

func flip(from, n int) func(b []byte) []byte {
	return func(b []byte) []byte {
		for i := from; i < from+n && i < len(b); i++ {
			b[i] ^= 0xA5
		}
		return b
	}
}

// A damaged journal is set aside under a name of its own and nothing of it is deleted; the new one goes on above its
// numbers, says what had not been delivered, and takes over the small states.
func TestDamagedJournalIsSetAside(t *testing.T) {
	for name, spoil := range map[string]func(b []byte) []byte{
		"magic":          flip(0, 8),
		"application id": flip(68, 4),
		"page size":      flip(16, 2),
		"schema page":    flip(100, 400),
		"pages":          func(b []byte) []byte { return flip(len(b)/2, 20000)(b) },
		"last pages":     func(b []byte) []byte { return flip(len(b)-9000, 9000)(b) },
		"truncated":      func(b []byte) []byte { return b[:len(b)/2] },
		"cut in a page":  func(b []byte) []byte { return b[:len(b)-100] },
	} {
		t.Run(name, func(t *testing.T) {
			path := plainFile(t)
			first, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "first", Bridge: "rack-pc", Sinks: []string{"mqtt", "series"}})
			if err != nil {
				t.Fatal(err)
			}
			add(t, first, publishtest.Series("first", "suite-a", 1, 3000)...)
			for _, sink := range []string{"mqtt", "series"} {
				if err := first.SaveCursor(t.Context(), sink, publish.Cursor{Live: 2500}); err != nil {
					t.Fatal(err)
				}
			}
			if err := first.Close(); err != nil {
				t.Fatal(err)
			}
			change(t, path, spoil)
			size := fileSize(t, path)

			var told []journal.Event
			var lines logBuffer
			j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "second", Bridge: "rack-pc", Sinks: []string{"mqtt", "series"},
				CheckWithin: time.Minute, Logger: logTo(&lines), Notice: func(e journal.Event) { told = append(told, e) }})
			if err != nil {
				t.Fatal(err)
			}
			defer j.Close()
			if len(told) != 1 || told[0].Code != journal.EventSetAside || lines.count("level=ERROR") != 1 {
				t.Fatalf("got told %+v, want %s once", told, journal.EventSetAside)
			}
			aside, err := filepath.Glob(path + ".aside-*Z")
			if err != nil || len(aside) != 1 || !strings.Contains(told[0].Note, aside[0]) || fileSize(t, aside[0]) != size {
				t.Errorf("got set aside %q, %v, want one file of %d bytes that the event names: %s", aside, err, size, told[0].Note)
			}
			events, err := j.Events(t.Context())
			if err != nil || len(events) != 1 || events[0].Note != told[0].Note {
				t.Errorf("got events %+v, %v, want the one told", events, err)
			}
			gaps, err := j.Gaps(t.Context())
			if err != nil || len(gaps) != 1 || gaps[0].Instrument != "suite-a" || gaps[0].Run != "first" || gaps[0].UntilSeq != 3000 ||
				gaps[0].Cause != journal.CauseJournalLost || gaps[0].FromSeq != 0 && gaps[0].FromSeq != 2501 {
				t.Errorf("got gaps %+v, %v, want what came after seq 2500 of suite-a", gaps, err)
			}
			if tails := j.Previous(); len(tails) != 1 || tails[0].Seq != 3000 {
				t.Errorf("got last readings %+v, want seq 3000", tails)
			}
			add(t, j, publishtest.Result("second", "suite-a", 1))
			if j.Last() != 3001 {
				t.Errorf("got row %d, want 3001: above every number of the file set aside", j.Last())
			}
		})
	}
}

func TestSmallStatesAreTakenOverFromADamagedJournal(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "first")
	if err := j.Keep(t.Context(), "service/suite-a", []byte("on")); err != nil {
		t.Fatal(err)
	}
	if _, err := j.AppendAct(t.Context(), func(journal.Act) journal.Act { return journal.Act{Who: "mk", Hash: []byte{1}} }); err != nil {
		t.Fatal(err)
	}
	add(t, j, publishtest.Series("first", "suite-a", 1, 3000)...)
	j.Close()
	change(t, path, func(b []byte) []byte { return flip(len(b)-9000, 9000)(b) }) // the rows came last
	j = open(t, path, "second")
	if k, ok, err := j.Kept(t.Context(), "service/suite-a"); err != nil || !ok || string(k.Value) != "on" {
		t.Errorf("got %+v, %v, %v, want the mark of service", k, ok, err)
	}
	if a, err := j.LastAct(t.Context()); err != nil || a.ID != 1 || a.Who != "mk" {
		t.Errorf("got act %+v, %v, want the one there was", a, err)
	}
}

// A log that was taken away leaves a file that is whole in itself, only older: the mark beside it tells.
func TestMissingRowsAreNoticedAndNamed(t *testing.T) {
	path := plainFile(t)
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "first", Bridge: "rack-pc", MarkEvery: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.Close() })
	add(t, j, publishtest.Series("first", "suite-a", 1, 100)...)
	add(t, j, publishtest.Series("first", "suite-b", 1, 20)...)
	publishtest.Eventually(t, "the mark follows", func() bool {
		var m struct {
			LastRow int64 `json:"last_row"`
		}
		b, err := os.ReadFile(path + ".mark")
		return err == nil && json.Unmarshal(b, &m) == nil && m.LastRow == 120
	})
	elsewhere := filepath.Join(t.TempDir(), "journal.db")
	// by another process: to close the file in this one would drop its locks
	for _, end := range []string{"", ".mark"} {
		if out, err := exec.Command("cp", path+end, elsewhere+end).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	var told []journal.Event
	later, err := journal.Open(t.Context(), journal.Options{Path: elsewhere, Run: "second", Bridge: "rack-pc", Notice: func(e journal.Event) { told = append(told, e) }})
	if err != nil {
		t.Fatal(err)
	}
	defer later.Close()
	missing := 120 - len(all(t, later.Reader, journal.Query{}))
	if missing != 120 {
		t.Logf("%d rows were folded in before the copy", 120-missing)
	}
	if len(told) != 1 || told[0].Code != journal.EventRowsMissing || !strings.Contains(told[0].Note, "at least 120 results") {
		t.Errorf("got told %+v, want %s with the number", told, journal.EventRowsMissing)
	}
	gaps, err := later.Gaps(t.Context())
	if err != nil || len(gaps) != 2 {
		t.Fatalf("got gaps %+v, %v, want one for each instrument", gaps, err)
	}
	for _, g := range gaps {
		want := map[string]int64{"suite-a": 100, "suite-b": 20}[g.Instrument]
		if g.FromSeq != 1 || int64(g.UntilSeq) != want || g.Count != want || g.Run != "first" {
			t.Errorf("got gap %+v, want seqs 1 to %d", g, want)
		}
	}
	add(t, later, publishtest.Result("second", "suite-a", 1))
	if later.Last() != 121 {
		t.Errorf("got row %d, want 121", later.Last())
	}
}

// What a check finds after the start is told, and the file set aside at the next.
func TestDamageFoundLaterIsToldAndSetAsideNext(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "first")
	add(t, j, publishtest.Series("first", "suite-a", 1, 3000)...)
	j.Close()
	change(t, path, func(b []byte) []byte { return flip(len(b)/2, 20000)(b) })
	told := make(chan journal.Event, 10)
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "second", Bridge: "rack-pc", CheckWithin: time.Nanosecond,
		Notice: func(e journal.Event) { told <- e }})
	if err != nil {
		t.Fatal(err)
	}
	if e := <-told; e.Code != journal.EventDamaged {
		t.Errorf("got told %+v, want %s", e, journal.EventDamaged)
	}
	j.Close()
	j, err = journal.Open(t.Context(), journal.Options{Path: path, Run: "third", Bridge: "rack-pc", CheckWithin: time.Nanosecond,
		Notice: func(e journal.Event) { told <- e }})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	if e := <-told; e.Code != journal.EventSetAside {
		t.Errorf("got told %+v, want %s", e, journal.EventSetAside)
	}
}

func fileSize(t *testing.T, path string) int64 {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	return info.Size()
}
