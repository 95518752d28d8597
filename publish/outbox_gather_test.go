package publish_test

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// parcels notes how many rows each delivery has, and when.
type parcels struct {
	mu   sync.Mutex
	sent []int
	at   []time.Time
}

func (*parcels) Name() string { return "series" }

func (p *parcels) Deliver(_ context.Context, batch []publish.Row) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sent, p.at = append(p.sent, len(batch)), append(p.at, time.Now())
	return nil
}

// The first row goes at once, those after it together; a whole batch and a stop wait for nothing.
func TestRowsGather(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		rows, sink := publishtest.NewRows(), &parcels{}
		o, err := publish.NewOutbox(publish.Options{Rows: rows, Sink: sink, Run: "r1", SinceStart: func() time.Duration { return time.Since(began) },
			OneLane: true, Gather: 250 * time.Millisecond, Batch: 100})
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- o.Run(ctx) }()
		add := func(from, until uint64) {
			rows.Add(publishtest.Series("r1", "suite-a", from, until)...)
			synctest.Wait()
		}
		add(1, 1)
		for i := range uint64(10) {
			time.Sleep(20 * time.Millisecond)
			add(2+i, 2+i)
		}
		time.Sleep(60 * time.Millisecond) // past the quarter second, so that two things do not happen in one moment
		add(12, 111)
		add(112, 112)
		stop()
		if err := <-done; err != nil {
			t.Fatal(err)
		}
		want := []struct {
			rows int
			at   time.Duration
		}{{1, 0}, {10, 250 * time.Millisecond}, {100, 260 * time.Millisecond}, {1, 260 * time.Millisecond}}
		if len(sink.sent) != len(want) {
			t.Fatalf("got deliveries of %v rows, want %v", sink.sent, want)
		}
		for i, w := range want {
			if at := sink.at[i].Sub(began); sink.sent[i] != w.rows || at != w.at {
				t.Errorf("delivery %d: got %d rows after %v, want %d after %v", i, sink.sent[i], at, w.rows, w.at)
			}
		}
	})
}
