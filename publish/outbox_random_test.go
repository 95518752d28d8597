package publish_test

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// Whatever fails, in whatever order, over several starts of the bridge: every row reaches the sink at least once or is
// put aside, unaltered and in order within each lane, and no row is shown live past its time.
func TestRandomFailures(t *testing.T) {
	for _, oneLane := range []bool{false, true} {
		seeds := uint64(15)
		if os.Getenv("MANOBRIDGE_LONG") == "1" {
			seeds = 500
		}
		for seed := range seeds {
			synctest.Test(t, func(t *testing.T) { randomRun(t, seed, oneLane) })
			if t.Failed() {
				t.Fatalf("seed %d, one lane %v", seed, oneLane)
			}
		}
	}
}

func randomRun(t *testing.T, seed uint64, oneLane bool) {
	// One source for each that draws at its own time.
	rng, sinkRNG, diskRNG := rand.New(rand.NewPCG(seed, 1)), rand.New(rand.NewPCG(seed, 2)), rand.New(rand.NewPCG(seed, 3))
	b := newBench(t)
	ledger := publishtest.NewLedger(t, "faulty")
	poison := map[int64]publish.Class{}
	weather := 0.5 // the share of deliveries that fail
	b.sink.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
		for i := range batch {
			if class, bad := poison[batch[i].ID]; bad {
				return &publish.DeliverError{Acked: sinkRNG.IntN(i + 1), Class: class, Code: "test", Err: errors.New("poison")}
			}
		}
		for i := range batch {
			if age := time.Since(b.start) - batch[i].SinceStart; !oneLane && !batch[i].Late && age > 5*time.Second {
				t.Errorf("row %d: got it live %v after it was read, want within 5 s", batch[i].ID, age)
			}
		}
		if sinkRNG.Float64() < weather {
			class := []publish.Class{publish.Transient, publish.Configuration, publish.Suspect}[sinkRNG.IntN(3)]
			if len(batch) == 1 && class == publish.Suspect { // five of these would rightly put a good row aside
				class = publish.Transient
			}
			return &publish.DeliverError{Acked: sinkRNG.IntN(len(batch) + 1), Code: "test", Err: errors.New("bad weather"), Class: class}
		}
		return nil
	}
	for range 3 { // starts
		b.rows.Fail(nil)
		_, stop := b.run(func(o *publish.Options) {
			o.OneLane = oneLane
			o.Batch = 1 + rng.IntN(40)
			o.BackoffMax = 4 * time.Second
		})
		for range 30 {
			w := []float64{0, 0.3, 1}[rng.IntN(3)]
			b.sink.Change(func() { weather = w })
			b.rows.Fail(func(op string) error {
				if op != "cursor" && diskRNG.Float64() < 0.1 {
					return errors.New("disk")
				}
				return nil
			})
			if rng.IntN(20) == 0 {
				id, class := b.rows.Last()+1+int64(rng.IntN(5)), []publish.Class{publish.Content, publish.Suspect}[rng.IntN(2)]
				b.sink.Change(func() { poison[id] = class })
			}
			ledger.Given(b.read(rng.IntN(60))...)
			time.Sleep(time.Duration(rng.IntN(8000)) * time.Millisecond)
		}
		b.rows.Fail(nil)
		stop()
	}
	weather = 0
	o, stop := b.run(func(o *publish.Options) { o.OneLane = oneLane })
	for end := time.Now().Add(2 * time.Hour); o.Stats().Lag > 0 && time.Now().Before(end); {
		time.Sleep(10 * time.Second)
	}
	synctest.Wait()
	if s := o.Stats(); s.Lag != 0 {
		t.Errorf("got %+v, want nothing left", s)
	}
	stop()

	live, late := b.sink.Live(), b.sink.Late()
	ledger.Delivered("faulty", live...)
	ledger.Delivered("faulty", late...)
	for _, row := range b.rows.All() {
		if b.rows.Quarantined("faulty")[row.ID] != "" {
			ledger.PutAside("faulty", row.Name)
		}
	}
	for id := range b.rows.Quarantined("faulty") {
		if _, bad := poison[id]; !bad {
			t.Errorf("got the good row %d put aside, want only poison rows", id)
		}
	}
	// The cursor is kept at every stop here, so nothing is ever delivered twice and each lane is strictly ascending.
	for lane, got := range map[string][]int64{"live": ids(live), "late": ids(late)} {
		if !slices.IsSorted(got) || len(slices.Compact(slices.Clone(got))) != len(got) {
			t.Errorf("%s lane: got rows %v, want strictly ascending", lane, got)
		}
	}
	if b.sink.Mixed() {
		t.Error("got a batch of live and late rows, want them apart")
	}
}
