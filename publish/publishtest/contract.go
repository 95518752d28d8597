package publishtest

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

// Contract is what the contract of publish.Sink is tried on.
type Contract struct {
	Sink publish.Sink
	// Down takes the far end away, Up brings it back with what it had.
	Down, Up func()
	// Reached fills the ledger with what the far end has, whoever asks: through Delivered or Message, under the
	// sink's name.
	Reached func(*Ledger)
}

// Run tries the contract. The sink's own time-outs should be short, a second or two.
func (c Contract) Run(t *testing.T) {
	t.Helper()
	check := func(t *testing.T, results []convert.Result) {
		t.Helper()
		Eventually(t, "what was acknowledged is at the far end, unaltered", func() bool {
			l := newLedger([]string{c.Sink.Name()})
			l.Given(results...)
			c.Reached(l)
			return len(l.Missing(c.Sink.Name())) == 0
		})
	}
	var all []convert.Result
	made := func(instrument string, n uint64) []publish.Row {
		results := Series("contract", instrument, 1, n)
		all = append(all, results...)
		rows := make([]publish.Row, n)
		for i := range results {
			rows[i] = publish.Row{ID: int64(i + 1), Result: results[i]}
		}
		return rows
	}
	deliver := func(ctx context.Context, rows []publish.Row) error {
		if r, ok := c.Sink.(publish.Readier); ok {
			if err := r.Ready(ctx); err != nil {
				return err
			}
		}
		return c.Sink.Deliver(ctx, rows)
	}
	within := func() (context.Context, context.CancelFunc) {
		return context.WithTimeout(context.Background(), Patience)
	}

	t.Run("name", func(t *testing.T) {
		if got := c.Sink.Name(); got == "" || got != c.Sink.Name() {
			t.Errorf("got the name %q, want one that stays", got)
		}
	})
	t.Run("nothing to deliver", func(t *testing.T) {
		ctx, cancel := within()
		defer cancel()
		if err := deliver(ctx, nil); err != nil {
			t.Errorf("got %v, want success", err)
		}
	})
	t.Run("nil is an acknowledgement", func(t *testing.T) {
		ctx, cancel := within()
		defer cancel()
		if err := deliver(ctx, made("suite-a", 300)); err != nil {
			t.Fatalf("got %v, want success", err)
		}
		check(t, all)
	})
	t.Run("two lanes at a time", func(t *testing.T) {
		ctx, cancel := within()
		defer cancel()
		live, late := made("suite-b", 200), made("suite-c", 200)
		for i := range late {
			late[i].Late = true
		}
		var wg sync.WaitGroup
		for _, rows := range [][]publish.Row{live, late} {
			wg.Go(func() {
				if err := deliver(ctx, rows); err != nil {
					t.Errorf("got %v, want success", err)
				}
			})
		}
		wg.Wait()
		check(t, all)
	})
	t.Run("an outage is transient and acknowledges nothing that is not there", func(t *testing.T) {
		rows := made("suite-d", 50)
		c.Down()
		ctx, cancel := context.WithTimeout(context.Background(), 3*time.Second)
		err := c.Sink.Deliver(ctx, rows)
		cancel()
		var e *publish.DeliverError
		switch {
		case err == nil:
			t.Error("got success while the far end was away")
		case !errors.As(err, &e):
			t.Errorf("got %T %v, want a *publish.DeliverError", err, err)
		case e.Class != publish.Transient && e.Class != publish.Suspect || e.Acked != 0 || e.Err == nil || e.Code == "":
			t.Errorf("got class %d, %d acknowledged, code %q, %v, want Transient or Suspect, 0, a code, a cause", e.Class, e.Acked, e.Code, e.Err)
		}
		c.Up()
		ctx, cancel = within()
		defer cancel()
		for err = deliver(ctx, rows); err != nil && ctx.Err() == nil; err = deliver(ctx, rows) {
			t.Logf("after the outage: %v", err)
		}
		if err != nil {
			t.Fatalf("after the outage: got %v, want success", err)
		}
		check(t, all)
	})
	t.Run("a delivery ends with its context", func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		before := time.Now()
		err := c.Sink.Deliver(ctx, made("suite-e", 1))
		if took := time.Since(before); err == nil || took > 5*time.Second {
			t.Errorf("got %v after %v, want an error at once", err, took)
		}
		all = all[:len(all)-1] // it may be there or not
	})
	l := NewLedger(t, c.Sink.Name())
	l.Given(all...)
	l.Given(Series("contract", "suite-e", 1, 1)...)
	l.Gap("contract", "suite-e", 1, 1)
	c.Reached(l)
}
