package series_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

// From the journal to the store and back: the path is refused, cut and stalled, the store is killed and started again,
// and the bridge is stopped in the middle; every result is in the store at the end, with its numbers.
func TestNothingIsLostOverOutages(t *testing.T) {
	store := publishtest.InfluxDB(t, "pressure")
	proxy := publishtest.NewProxy(t, store.Addr)
	path := filepath.Join(t.TempDir(), "journal.db")
	ledger := publishtest.NewLedger(t, "series")
	var given []convert.Result
	faults := []func(){proxy.Refuse, proxy.Cut, proxy.Stall, store.Kill, func() {}}
	mends := []func(){proxy.Pass, func() {}, proxy.Pass, store.Start, func() {}}

	for n, run := range []string{"r1", "r2"} {
		start := time.Now()
		j, err := journal.Open(context.Background(), journal.Options{Path: path, Run: run, Bridge: "b1"})
		if err != nil {
			t.Fatalf("open the journal: %v", err)
		}
		sink := open(t, func(o *series.Options) { o.Timeout = 500 * time.Millisecond }, "http://"+proxy.Addr)
		o, err := publish.NewOutbox(publish.Options{Rows: j, Sink: sink, Run: run, OneLane: true, Batch: 50,
			SinceStart: func() time.Duration { return time.Since(start) },
			BackoffMin: 10 * time.Millisecond, BackoffMax: 100 * time.Millisecond, DrainWithin: time.Second})
		if err != nil {
			t.Fatalf("NewOutbox: %v", err)
		}
		ctx, stop := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() { ended <- o.Run(ctx) }()
		seq := uint64(0)
		read := func() {
			results := publishtest.Series(run, "suite-a", seq+1, seq+200)
			for i := range results { // times of their own in each run
				results[i].ReceivedAt = results[i].ReceivedAt.Add(time.Duration(n) * time.Hour)
			}
			seq += 200
			ledger.Given(results...)
			given = append(given, results...)
			if err := j.Append(context.Background(), results); err != nil {
				t.Errorf("Append: %v", err)
			}
		}
		for i, fault := range faults {
			fault()
			read()
			if i != 1 && i != len(faults)-1 {
				publishtest.Eventually(t, "the outage is seen", func() bool { return o.Stats().Link == publish.LinkDown })
			}
			mends[i]()
			read()
			if n == 1 || i < len(faults)-1 { // the first run is stopped with rows waiting
				publishtest.Eventually(t, "everything is acknowledged", func() bool { return o.Stats().Lag == 0 })
			}
		}
		stop()
		if err := <-ended; err != nil {
			t.Errorf("Run: got %v, want nil", err)
		}
		if s := o.Stats(); s.Quarantined != 0 {
			t.Errorf("got %d rows put aside, want none: %s", s.Quarantined, s.LastError)
		}
		if err := j.Close(); err != nil {
			t.Errorf("close the journal: %v", err)
		}
	}

	got := publishtest.ReadInfluxDB(t, store, "pressure", series.Measurement)
	compare(t, got, given, 1, 0)
	byTime := map[time.Time]convert.Result{}
	for _, r := range given {
		byTime[r.ReceivedAt] = r
	}
	for _, s := range got {
		if s.Field == "seq" {
			ledger.Delivered("series", publish.Row{Result: byTime[s.Time]})
		}
	}
}
