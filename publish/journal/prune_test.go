package journal_test

import (
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// bounded opens a journal with bounds, at a time after the made-up readings.
func bounded(t *testing.T, path, run string, b journal.Bounds, now time.Time, log *logBuffer, sinks ...string) *journal.Journal {
	t.Helper()
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: run, Bridge: "rack-pc", Started: publishtest.Epoch(),
		Bounds: b, Sinks: sinks, Now: func() time.Time { return now }, Logger: logTo(log)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return j
}

const turn = 2 * time.Millisecond

func firstRow(t *testing.T, j *journal.Journal) int64 {
	t.Helper()
	rows, err := j.Rows(t.Context(), 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) == 0 {
		return 0
	}
	return rows[0].ID
}

// What is older than the bound goes, but never what a configured sink has not got; a sink that is not configured any
// more holds nothing back.
func TestAgePrunesBelowTheLowestCursor(t *testing.T) {
	path := plainFile(t)
	var log logBuffer
	given := publishtest.Series("first", "suite-a", 1, 5200) // 10 spans and 80 rows
	given[30].Average = &convert.Average{Samples: 3, Good: 3}
	hour := publishtest.Epoch().Add(time.Hour)
	j := bounded(t, path, "first", journal.Bounds{}, hour, &log)
	for batch := range slices.Chunk(given, 400) {
		add(t, j, batch...)
	}
	for sink, c := range map[string]publish.Cursor{
		"mqtt": {Live: 5000, Late: []publish.Range{{From: 1600, Until: 1700}}}, "series": {Live: 4000}, "archive": {Live: 3},
	} {
		if err := j.SaveCursor(t.Context(), sink, c); err != nil {
			t.Fatal(err)
		}
	}
	for _, row := range []int64{5, 4500} {
		if err := j.Quarantine(t.Context(), "series", row, "field type conflict"); err != nil {
			t.Fatal(err)
		}
	}
	gen, err := j.BeginGeneration(t.Context(), journal.Generation{Made: hour})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.AppendRecomputed(t.Context(), gen, []journal.Recomputed{{Row: 9, Result: given[8]}, {Row: 4001, Result: given[4000]}}); err != nil {
		t.Fatal(err)
	}
	j.Close()

	j = bounded(t, path, "second", journal.Bounds{Age: time.Minute}.ForTest(turn, nil), hour, &log, "mqtt", "series")
	publishtest.Eventually(t, "what both sinks have got is pruned", func() bool { return firstRow(t, j) == 3*512+1 }) // row 1600 is in the fourth span
	if log.count("code=journal-cursor-unused sink=archive") != 1 {
		t.Errorf("got no word on the cursor of the sink that is not configured: %s", log.b.String())
	}
	if err := j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: 5200}); err != nil {
		t.Fatal(err)
	}
	publishtest.Eventually(t, "the slower sink holds the rest", func() bool { return firstRow(t, j) == 7*512+1 })
	if err := j.SaveCursor(t.Context(), "series", publish.Cursor{Live: 5200}); err != nil {
		t.Fatal(err)
	}
	publishtest.Eventually(t, "all closed spans are pruned", func() bool { return firstRow(t, j) == 10*512+1 })

	if gaps, err := j.Gaps(t.Context()); err != nil || len(gaps) != 0 {
		t.Errorf("got gaps %+v, %v, want none: every sink has got everything", gaps, err)
	}
	put, err := j.Quarantined(t.Context(), "series")
	if err != nil || len(put) != 2 || put[0].Name != given[4].Name {
		t.Errorf("got put aside %+v, %v, want both, named after their rows are gone", put, err)
	}
	if n := scalar(t, path, "SELECT (SELECT count(*) FROM average) + (SELECT count(*) FROM recomputed)"); n != 0 {
		t.Errorf("got %d averages and results computed anew of rows that are gone, want none", n)
	}
	if got := len(all(t, j.Reader, journal.Query{})); got != 80 {
		t.Errorf("got %d rows, want 80", got)
	}
	later := publishtest.Result("second", "suite-a", 9000)
	add(t, j, later)
	if j.Last() != 5201 {
		t.Errorf("got row %d, want 5201", j.Last())
	}
	j.Close()
	j = bounded(t, path, "third", journal.Bounds{}, hour, &log)
	add(t, j, publishtest.Result("third", "suite-a", 9001))
	if tails := j.Previous(); j.Last() != 5202 || len(tails) != 1 || tails[0].Seq != 9000 {
		t.Errorf("got row %d and last readings %+v after a restart, want 5202 and seq 9000", j.Last(), tails)
	}
}

// The bound on size holds even against a sink that is behind, and then every result it did not get is in a gap.
func TestSizePrunesMoreAndNamesWhatWasNotDelivered(t *testing.T) {
	ledger := publishtest.NewLedger(t, "kept")
	path := plainFile(t)
	var log logBuffer
	const size = 600_000
	j := bounded(t, path, "first", journal.Bounds{Size: size}.ForTest(turn, nil), publishtest.Epoch(), &log, "mqtt")
	if err := j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: 700}); err != nil {
		t.Fatal(err)
	}
	for seq := uint64(1); seq <= 12000; seq += 200 {
		for _, name := range []string{"suite-a", "suite-b"} {
			batch := publishtest.Series("first", name, seq, seq+199)
			if seq > 400 {
				ledger.Given(batch...)
			}
			add(t, j, batch...)
		}
	}
	publishtest.Eventually(t, "the file is within its bound", func() bool {
		return scalar(t, path, "SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size") <= size
	})
	if err := j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: j.Last()}); err != nil {
		t.Fatal(err)
	}
	publishtest.Eventually(t, "that it is over is told", func() bool { return log.count("nothing more is given up") == 1 })
	gaps, err := j.Gaps(t.Context())
	if err != nil || len(gaps) == 0 {
		t.Fatalf("got gaps %v, %v, want some", gaps, err)
	}
	var counted int64
	for _, g := range gaps {
		if g.Cause != journal.CauseJournalPruned || g.Run != "first" || g.Until.Before(g.From) {
			t.Errorf("got gap %+v", g)
		}
		counted += g.Count
		ledger.Gap(g.Run, g.Instrument, g.FromSeq, g.UntilSeq)
	}
	rows := all(t, j.Reader, journal.Query{})
	ledger.Delivered("kept", rows...)
	if want := rows[0].ID - 1 - 700; counted != want {
		t.Errorf("got %d results in gaps, want %d: all above the cursor that are gone", counted, want)
	}
	if told, err := j.Events(t.Context()); err != nil || len(told) == 0 || told[0].Code != journal.EventPruned {
		t.Errorf("got events %+v, %v, want %s", told, err, journal.EventPruned)
	}
	if n := log.count("level=ERROR"); n != 1 {
		t.Errorf("got %d lines of it, want one", n)
	}
}

// A disk that gets full gets room from the journal while it can still delete; where nothing may go, that is told once.
func TestLowDiskPrunesAndSaysWhenItCannot(t *testing.T) {
	path := plainFile(t)
	var log logBuffer
	var free atomic.Int64
	free.Store(1000)
	j := bounded(t, path, "first", journal.Bounds{Free: 60_000}.ForTest(turn, free.Load), publishtest.Epoch().Add(48*time.Hour), &log)
	for batch := range slices.Chunk(publishtest.Series("first", "suite-a", 1, 5200), 400) {
		add(t, j, batch...)
	}
	publishtest.Eventually(t, "everything old is pruned, and that there is no more is told", func() bool {
		return firstRow(t, j) == 10*512+1 && log.count("code=disk-low") == 1
	})
	free.Store(1e9)
	publishtest.Eventually(t, "that there is room is told", func() bool { return log.count("code=disk-room") == 1 })
	if told, err := j.Events(t.Context()); err != nil || len(told) != 1 || told[0].Code != journal.EventDiskLow {
		t.Errorf("got events %+v, %v, want %s", told, err, journal.EventDiskLow)
	}
}
