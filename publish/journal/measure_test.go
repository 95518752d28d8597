package journal_test

import (
	"os"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// TestMeasure prints what the journal does on this machine: MANOBRIDGE_LONG=1 go test -run TestMeasure -v. It holds the
// start to a second, and one piece of pruning to what an append may wait.
func TestMeasure(t *testing.T) {
	n := uint64(20_000)
	if os.Getenv("MANOBRIDGE_LONG") == "1" {
		n = 1_000_000
	}
	path := plainFile(t)
	j := open(t, path, "first")
	batch := publishtest.Series("first", "suite-a", 1, 500)
	began := time.Now()
	for seq := uint64(0); seq < n; seq += 500 {
		for i := range batch {
			batch[i].Seq++
			batch[i].SinceStart += 50 * time.Second
			batch[i].ReceivedAt = publishtest.Epoch().Add(batch[i].SinceStart)
		}
		add(t, j, batch...)
	}
	took := time.Since(began)
	began = time.Now()
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	t.Logf("append: %.0f rows/s; close: %v; %.1f B for each row", float64(n)/took.Seconds(), time.Since(began), float64(fileSize(t, path))/float64(n))

	began = time.Now()
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "second", Bridge: "rack-pc", Started: publishtest.Epoch(), Sinks: []string{"mqtt"},
		Bounds: journal.Bounds{Age: time.Hour}.ForTest(turn, nil), Now: func() time.Time { return publishtest.Epoch().Add(20 * 365 * 24 * time.Hour) }})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	started := time.Since(began)
	t.Logf("start with %d rows: %v", n, started)
	if started > time.Second {
		t.Errorf("got %v to start, want at most 1 s", started)
	}
	if err := j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: j.Last()}); err != nil {
		t.Fatal(err)
	}
	began = time.Now()
	var slowest time.Duration
	seq := n + 1000
	for last := int64(n) / 512 * 512; firstRow(t, j) <= last; {
		at := time.Now()
		seq++
		r := publishtest.Result("second", "suite-b", seq)
		add(t, j, r)
		slowest = max(slowest, time.Since(at))
	}
	took = time.Since(began)
	t.Logf("pruning beside appends of one row: %.0f rows/s; slowest append %v", float64(n)/took.Seconds(), slowest)
	if os.Getenv("MANOBRIDGE_LONG") == "1" && slowest > 500*time.Millisecond {
		t.Errorf("got an append that waited %v for pruning, want about 100 ms at most", slowest)
	}
}
