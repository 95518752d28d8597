package publish_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// forgetful acknowledges everything and keeps what keeps says.
type forgetful struct {
	publishtest.FaultySink
	keeps func(r *publish.Row, time int) bool // time: the how many-th the row comes
	mute  error

	came map[int64]int
	has  map[int64]bool
}

func newForgetful(keeps func(r *publish.Row, time int) bool) *forgetful {
	f := &forgetful{keeps: keeps, came: map[int64]int{}, has: map[int64]bool{}}
	f.Answer = func(_ context.Context, batch []publish.Row) *publish.DeliverError {
		for i := range batch {
			id := batch[i].ID
			f.came[id]++
			f.has[id] = f.has[id] || f.keeps(&batch[i], f.came[id])
		}
		return nil
	}
	return f
}

// ReadBack is that of publish.ReadBacker.
func (f *forgetful) ReadBack(_ context.Context, rows []publish.Row) (missing []publish.Row, err error) {
	f.Change(func() {
		if err = f.mute; err != nil {
			return
		}
		for _, r := range rows {
			if !f.has[r.ID] {
				missing = append(missing, r)
			}
		}
	})
	return missing, err
}

// most is how many times the row came that came most often.
func (f *forgetful) most() (most int) {
	f.Change(func() { most = slices.Max(append(values(f.came), 0)) })
	return most
}

const readBack = 5 * time.Minute

// asked runs an outbox that reads back.
func (b *bench) asked(f *forgetful, told *[]publish.Dropped) (o *publish.Outbox, stop func()) {
	b.t.Helper()
	return b.run(func(o *publish.Options) {
		o.Sink, o.OneLane, o.ReadBack = f, true, readBack
		o.OnDropped = func(d publish.Dropped) { *told = append(*told, d) }
	})
}

// A store that drops for a while is found within one interval, and gets all since then again.
func TestDroppedRowsAreSentAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		dropping := false
		f := newForgetful(func(_ *publish.Row, time int) bool { return !dropping || time > 1 })
		var told []publish.Dropped
		o, stop := b.asked(f, &told)
		for range 400 {
			b.read(1)
			time.Sleep(time.Second)
		}
		f.Change(func() { dropping = true })
		b.read(105)
		time.Sleep(readBack)
		synctest.Wait() // nothing runs now
		f.Change(func() { dropping = false })
		if len(told) != 1 || told[0].Again || told[0].Rows == 0 {
			t.Errorf("within one interval: got %+v, want one report of a drop", told)
		}
		time.Sleep(2 * readBack)
		stop()
		for id := int64(1); id <= 505; id++ {
			if !f.has[id] {
				t.Errorf("row %d: got it nowhere, want it in the store", id)
			}
			if f.came[id] > 2 {
				t.Errorf("row %d: got it sent %d times, want at most twice", id, f.came[id])
			}
		}
		if q := b.rows.Quarantined("faulty"); len(q) != 0 || o.Stats().Lag != 0 {
			t.Errorf("got %v put aside and a lag of %d, want none", q, o.Stats().Lag)
		}
		for code, want := range map[string]int{"row-dropped": 1, "row-dropped-repaired": 1, "row-dropped-over": 1, "row-dropped-again": 0} {
			if n := b.said(code); n != want && !(code == "row-dropped-over" && n == 0) {
				t.Errorf("got %d lines of %s, want %d:\n%s", n, code, want, &b.log)
			}
		}
	})
}

// A store that drops what is too old for it each time has those rows named, those alone, and gets no row a third time.
func TestRowsDroppedTwiceAreNamed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		old := func(id int64) bool { return id >= 100 && id < 130 }
		f := newForgetful(func(r *publish.Row, _ int) bool { return !old(r.ID) })
		var told []publish.Dropped
		var oldest []convert.Result
		for seq := range uint64(200) { // an earlier run's, with times of their own
			r := publishtest.Result("r1", "suite-a", seq+1)
			if old(int64(seq) + 1) {
				r.ReceivedAt = r.ReceivedAt.AddDate(-1, 0, 0)
			}
			oldest = append(oldest, r)
		}
		b.rows.Add(oldest...)
		o, stop := b.asked(f, &told)
		time.Sleep(2 * readBack)
		b.read(50)
		time.Sleep(3 * readBack)
		synctest.Wait()
		stop()
		q := b.rows.Quarantined("faulty")
		for id := int64(1); id <= 250; id++ {
			if reason := q[id]; (reason != "") != old(id) || old(id) && reason != "acknowledged and dropped" {
				t.Errorf("row %d: got the reason %q in quarantine, want one where it is too old, and only there", id, reason)
			}
			if f.came[id] > 2 {
				t.Errorf("row %d: got it sent %d times, want at most twice", id, f.came[id])
			}
		}
		if len(told) != 2 || !told[1].Again || told[1].Rows != 30 || o.Stats().Quarantined != 30 {
			t.Errorf("got %+v and %d put aside, want a drop found and 30 rows named", told, o.Stats().Quarantined)
		}
		for _, code := range []string{"row-dropped", "row-dropped-again", "row-dropped-over"} {
			if n := b.said(code); n != 1 {
				t.Errorf("got %d lines of %s, want 1:\n%s", n, code, &b.log)
			}
		}
	})
}

// A store that drops everything for days is said once; every row is named.
func TestStoreThatDropsEverything(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		f := newForgetful(func(*publish.Row, int) bool { return false })
		var told []publish.Dropped
		_, stop := b.asked(f, &told)
		for range 48 {
			b.read(10)
			time.Sleep(readBack)
		}
		time.Sleep(4 * readBack)
		synctest.Wait()
		stop()
		if q := b.rows.Quarantined("faulty"); len(q) != 480 {
			t.Errorf("got %d rows named, want 480", len(q))
		}
		if b.said("row-dropped") != 1 || b.said("row-dropped-again") != 1 {
			t.Errorf("want one line of each state:\n%s", &b.log)
		}
	})
}

// A stop between the finding of a drop and the judgement on it makes the next run send the span again.
func TestStopWhileDroppedRowsAreSentAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		f := newForgetful(func(_ *publish.Row, time int) bool { return time > 2 })
		var told []publish.Dropped
		_, stop := b.asked(f, &told)
		b.read(50)
		for f.most() < 2 { // until they are sent again
			if time.Since(b.start) > time.Hour {
				t.Fatal("got nothing sent again within an hour")
			}
			time.Sleep(time.Second)
			synctest.Wait()
		}
		stop()
		if c, _, err := b.rows.Cursor(context.Background(), "faulty"); err != nil || c.Live != 0 {
			t.Errorf("got the cursor kept at %d, %v, want at 0, before what is not there", c.Live, err)
		}
		_, stop = b.asked(f, &told)
		time.Sleep(2 * readBack)
		stop()
		for id := int64(1); id <= 50; id++ {
			if !f.has[id] {
				t.Errorf("row %d: got it nowhere, want it in the store", id)
			}
		}
	})
}

// A store that cannot be read is written to as ever, and it is said once that drops are not noticed.
func TestStoreThatCannotBeRead(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		f := newForgetful(func(*publish.Row, int) bool { return true })
		f.mute = &publish.DeliverError{Class: publish.Configuration, Code: "test", Err: errors.New("write only")}
		var told []publish.Dropped
		o, stop := b.asked(f, &told)
		for range 10 {
			b.read(10)
			time.Sleep(readBack)
		}
		f.Change(func() { f.mute = nil })
		time.Sleep(2 * readBack)
		stop()
		if s := o.Stats(); s.Lag != 0 || s.Link != publish.LinkUp || len(told) != 0 {
			t.Errorf("got %+v and %v, want all delivered and no drop", s, told)
		}
		if b.said("read-back-unavailable") != 1 || b.said("read-back-works") != 1 {
			t.Errorf("want one line of each state:\n%s", &b.log)
		}
		if n := f.came; len(n) != 100 || slices.Max(values(n)) != 1 {
			t.Errorf("got %d rows, one sent %d times, want 100 sent once", len(n), slices.Max(values(n)))
		}
	})
}

func values(m map[int64]int) (out []int) {
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

// A journal that cannot be read at the start is tried again.
func TestCursorThatCannotBeReadAtTheStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.rows.Fail(func(string) error { return errors.New("disk I/O error") })
		b.read(5)
		o, stop := b.run(nil)
		time.Sleep(time.Hour)
		b.rows.Fail(nil)
		b.read(5)
		time.Sleep(time.Minute)
		stop()
		if s := o.Stats(); s.Live+s.Late != 10 || b.said("journal-unread") != 1 || b.said("journal-works") != 1 {
			t.Errorf("got %+v, want all 10 delivered, and one line for each state:\n%s", s, &b.log)
		}
	})
}
