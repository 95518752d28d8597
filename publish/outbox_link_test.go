package publish_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// connected is a sink that holds a connection.
type connected struct {
	*publishtest.FaultySink
	mu   sync.Mutex
	up   chan struct{} // closed while there is a connection
	fail error
}

func (c *connected) Ready(ctx context.Context) error {
	c.mu.Lock()
	up, fail := c.up, c.fail
	c.mu.Unlock()
	if fail != nil {
		return fail
	}
	select {
	case <-up:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// While there is no connection nothing is tried, and what becomes old meanwhile is not shown live.
func TestNothingIsTriedWithoutAConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		c := &connected{FaultySink: b.sink, up: make(chan struct{})}
		o, stop := b.run(func(opt *publish.Options) { opt.Sink = c })
		b.read(10)
		time.Sleep(time.Second)
		if s := o.Stats(); s.Link != publish.LinkUnknown {
			t.Errorf("after 1 s: got %s, want unknown: a connection may take a moment", s.Link)
		}
		time.Sleep(time.Hour)
		if s := o.Stats(); s.Link != publish.LinkDown || s.Lag != 10 {
			t.Errorf("after 1 h: got %s and %d rows behind, want down and 10", s.Link, s.Lag)
		}
		if tries, _ := b.sink.Tries(); tries != 0 {
			t.Errorf("got %d deliveries without a connection, want 0", tries)
		}
		b.read(2)
		close(c.up)
		time.Sleep(time.Second)
		stop()
		same(t, "live", ids(b.sink.Live()), from(11, 12))
		same(t, "late", ids(b.sink.Late()), from(1, 10))
		if b.said("sink-down") != 1 || b.said("sink-up") != 1 {
			t.Errorf("want one sink-down and one sink-up:\n%s", &b.log)
		}
	})
}

// A connection that is refused for its password is an error that a person must see, said once.
func TestRefusedConnectionIsSaidOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		c := &connected{FaultySink: b.sink, up: make(chan struct{}),
			fail: &publish.DeliverError{Class: publish.Configuration, Code: "mqtt-login", Err: errors.New("not authorized")}}
		o, stop := b.run(func(opt *publish.Options) { opt.Sink = c })
		b.read(1)
		time.Sleep(time.Hour)
		if s := o.Stats(); s.Link != publish.LinkRefused || s.Lag != 1 {
			t.Errorf("got %s and %d rows behind, want refused and 1", s.Link, s.Lag)
		}
		stop()
		if b.said("sink-refused") != 1 || !strings.Contains(b.log.String(), "cause=mqtt-login") {
			t.Errorf("want one sink-refused with its cause:\n%s", &b.log)
		}
	})
}

// A journal that cannot be read or written for a while delays; it loses nothing and moves no cursor.
func TestJournalThatFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		bad := &publish.DeliverError{Class: publish.Content, Code: "test-content", Err: errors.New("no")}
		b.sink.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
			if batch[0].ID == 1 {
				return bad
			}
			return nil
		}
		o, stop := b.run(func(opt *publish.Options) { opt.OneLane = true })
		synctest.Wait() // its cursor is read
		b.rows.Fail(func(op string) error { return errors.New("disk is full") })
		b.read(1)
		time.Sleep(10 * time.Minute)
		b.rows.Fail(func(op string) error { // readable again, and nothing can be written
			if op == "rows" {
				return nil
			}
			return errors.New("disk is full")
		})
		time.Sleep(10 * time.Minute)
		if s := o.Stats(); s.Cursor.Live != 0 || s.Quarantined != 0 {
			t.Errorf("got %+v, want the refused row held: that it was put aside cannot be kept", s)
		}
		b.rows.Fail(nil)
		b.read(5)
		time.Sleep(2 * time.Minute)
		stop()
		same(t, "delivered", ids(b.sink.Live()), from(2, 6))
		if q := b.rows.Quarantined("faulty"); len(q) != 1 || q[1] == "" {
			t.Errorf("got quarantine %v, want row 1", q)
		}
		if b.said("journal-unread") != 1 || b.said("journal-unwritten") != 1 || b.said("journal-works") != 2 {
			t.Errorf("want each fault said once and its end once:\n%s", &b.log)
		}
	})
}

// While no cursor can be kept delivery goes on, and it is kept as soon as it can be.
func TestCursorThatCannotBeKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		_, stop := b.run(nil)
		synctest.Wait() // its cursor is read
		b.rows.Fail(func(op string) error {
			if op == "save" {
				return errors.New("disk is full")
			}
			return nil
		})
		for range 100 {
			b.read(5)
			time.Sleep(time.Second)
		}
		same(t, "delivered meanwhile", ids(b.sink.Live()), from(1, 500))
		b.rows.Fail(nil)
		time.Sleep(2 * time.Second)
		if c, _, _ := b.rows.Cursor(context.Background(), "faulty"); c.Live != 500 {
			t.Errorf("got cursor %d kept, want 500", c.Live)
		}
		stop()
		if b.said("cursor-unkept") != 1 || b.said("cursor-kept") != 1 {
			t.Errorf("want one cursor-unkept and one cursor-kept:\n%s", &b.log)
		}
	})
}

// A cursor stays small however often the link comes and goes: past the bound late ranges are joined, and the rows
// between are delivered once more rather than not at all.
func TestLateRangesAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		ledger := publishtest.NewLedger(t, "faulty")
		// The backlog hardly moves, so that each outage leaves its range.
		o, stop := b.run(func(opt *publish.Options) { opt.BacklogPerSecond = 0.01 })
		for range 400 {
			old := b.read(1)
			b.seq++
			late := publishtest.Result("r1", "suite-a", b.seq)
			b.rows.Add(late)
			ledger.Given(append(old, late)...)
			synctest.Wait()
		}
		if n := len(o.Stats().Cursor.Late); n < 200 || n > 256 {
			t.Errorf("got %d late ranges, want no more than 256", n)
		}
		stop()
		_, stop = b.run(nil)
		time.Sleep(time.Minute)
		stop()
		ledger.Delivered("faulty", b.sink.Live()...)
		ledger.Delivered("faulty", b.sink.Late()...)
	})
}
