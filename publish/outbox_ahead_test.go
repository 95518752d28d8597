package publish_test

import (
	"context"
	"testing"
	"testing/synctest"

	"manobridge/publish"
)

// Where nothing was found ahead, because all of it was pruned, what comes after that look is not passed over with it.
func TestNothingReadAheadPassesNoLaterRow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		hold := make(chan struct{})
		b.sink.Answer = func(context.Context, []publish.Row) *publish.DeliverError {
			<-hold
			return nil
		}
		b.read(100)
		b.rows.Skip(100)
		o, stop := b.run(func(opt *publish.Options) { opt.Batch = 100 })
		synctest.Wait() // the first rows are under way, and nothing was found behind them
		b.read(3)
		close(hold)
		synctest.Wait()
		same(t, "delivered", ids(b.sink.Live()), append(from(1, 100), from(201, 203)...))
		if c := o.Stats().Cursor; c.Live != 203 {
			t.Errorf("cursor: got %d, want 203", c.Live)
		}
		stop()
	})
}
