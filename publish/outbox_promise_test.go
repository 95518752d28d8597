package publish_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/publish"
)

// A far end that cannot be reached, refuses or asks for a pause leaves the outbox alive; one whose delivery ignores its time
// limit, and an outbox with nothing to do, are told apart.
func TestStuckDelivery(t *testing.T) {
	for name, answer := range map[string]func(ctx context.Context) *publish.DeliverError{
		"takes all": func(context.Context) *publish.DeliverError { return nil },
		"is away":   func(context.Context) *publish.DeliverError { return transient(0) },
		"refuses": func(context.Context) *publish.DeliverError {
			return &publish.DeliverError{Class: publish.Configuration, Code: "x", Err: context.Canceled}
		},
		"asks for a pause": func(context.Context) *publish.DeliverError {
			e := transient(0)
			e.After = 10 * time.Minute
			return e
		},
		"is slow": func(ctx context.Context) *publish.DeliverError {
			<-ctx.Done()
			return &publish.DeliverError{Err: ctx.Err()}
		},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := newBench(t)
				b.sink.Answer = func(ctx context.Context, _ []publish.Row) *publish.DeliverError { return answer(ctx) }
				o, stop := b.run(nil)
				b.read(1)
				for range 3 * 60 * 10 {
					if time.Sleep(time.Second); o.Stuck() {
						t.Fatal("got stuck, want alive")
					}
				}
				stop()
			})
		})
	}
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		free := make(chan struct{})
		b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError { <-free; return nil }
		o, stop := b.run(nil)
		b.read(1)
		time.Sleep(time.Minute)
		if o.Stuck() {
			t.Error("got stuck within the time of one delivery, want alive")
		}
		time.Sleep(time.Minute)
		if !o.Stuck() {
			t.Error("got alive after a delivery that ignores its limit of 1 min, want stuck")
		}
		close(free)
		synctest.Wait()
		if o.Stuck() {
			t.Error("got stuck after the delivery came back, want alive")
		}
		stop()
	})
}
