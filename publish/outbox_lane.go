package publish

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"
)

// lane is one ordered stream of rows to the sink. It belongs to one goroutine.
type lane struct {
	o    *Outbox
	done func(id int64, n int) // moves the cursor

	failures int // deliveries that failed on the way, in a row
	// window is how many of the next rows hold one that the sink refused or was lost on; 0 when none is known.
	window  int
	suspect int64 // the single row the link was last lost on
	losses  int   // how many times
	refused int   // rows put aside in a row, with none acknowledged between

	unread, unkept bool // the journal could not be read, a row not put aside, the last time

	next     time.Time // when the next late rows may go
	gathered time.Time // until when rows wait for others

	ahead *ahead // nil where nothing is read ahead

	promise *promise
}

const (
	// readySlice is how long a connection may take before it counts as down.
	readySlice = 2 * time.Second
	// longestAfter bounds what pause a far end can ask for.
	longestAfter = 15 * time.Minute
	// refusedInARow is after how many refused rows without an acknowledged one the rows are not to blame any more:
	// from there on each further row takes HoldFor, so that a far end that refuses everything does not empty the
	// journal into quarantine.
	refusedInARow = 20
)

// size is how many rows the next delivery takes: all, or half of those that hold a refused one.
func (l *lane) size() int {
	if l.window == 0 {
		return l.o.opt.Batch
	}
	return max(1, l.window/2)
}

// deliver delivers the batch, moves the cursor over what is done with, and gives the pause to make before the next.
func (l *lane) deliver(work context.Context, batch []Row) (pause time.Duration) {
	o := l.o
	l.within(o.opt.DeliverWithin)
	ctx, cancel := context.WithTimeout(work, o.opt.DeliverWithin)
	err := o.opt.Sink.Deliver(ctx, batch)
	cancel()
	if err == nil {
		l.acked(batch)
		o.link.works()
		l.failures = 0
		return 0
	}
	e := asDeliverError(err, len(batch))
	l.acked(batch[:e.Acked])
	rest := batch[e.Acked:]
	switch {
	case work.Err() != nil:
		return l.backoff(e) // cut off at the stop: that says nothing about the far end
	case len(rest) == 0:
		return l.backoff(e) // a contradiction; the rows are acknowledged, the pause keeps it from spinning
	}
	switch e.Class {
	case Content:
		l.failures = 0 // it answers
		if len(rest) > 1 {
			l.window = len(rest)
			return 0
		}
		return l.putAside(work, &rest[0], err.Error())
	case Stale:
		l.failures = 0 // it answers, slowly
		return 0
	case Configuration:
		o.link.fails(e)
		return jitter(max(o.opt.HoldFor, min(e.After, longestAfter)))
	case Suspect:
		o.link.fails(e)
		if len(rest) > 1 {
			l.window = len(rest)
			return l.backoff(e)
		}
		if l.suspect != rest[0].ID {
			l.suspect, l.losses = rest[0].ID, 0
		}
		if l.losses++; l.losses >= o.opt.Losses {
			return l.putAside(work, &rest[0], fmt.Sprintf("the link was lost %d times on this row: %v", l.losses, err))
		}
		return l.backoff(e)
	default:
		o.link.fails(e)
		return l.backoff(e)
	}
}

// acked moves the cursor over rows the far end has acknowledged.
func (l *lane) acked(rows []Row) {
	if len(rows) == 0 {
		return
	}
	l.done(rows[len(rows)-1].ID, len(rows))
	l.window = max(0, l.window-len(rows))
	l.refused = 0
	if l.o.back != nil {
		l.o.back.acked(rows)
	}
	late, now := 0, l.o.opt.SinceStart()
	for i := range rows {
		if rows[i].Late || l.o.opt.OneLane && l.o.lateAt(&rows[i], now) {
			late++
		}
	}
	l.o.link.count(len(rows)-late, late)
}

// putAside makes durable that the row is not delivered and moves on. Where that cannot be made durable the row stays.
func (l *lane) putAside(work context.Context, r *Row, reason string) time.Duration {
	err := l.o.opt.Rows.Quarantine(work, l.o.opt.Sink.Name(), r.ID, reason)
	if err != nil && work.Err() != nil {
		return l.o.opt.BackoffMin // cut off at the stop
	}
	if pause := l.journal(&l.unkept, "journal-unwritten", "a refused result cannot be put aside in the journal, so delivery waits", err); pause > 0 {
		return pause
	}
	l.done(r.ID, 1)
	l.window, l.losses = 0, 0
	l.o.link.aside(r, reason)
	if l.o.back != nil {
		l.o.back.putAside(r.ID)
	}
	if l.refused++; l.refused > refusedInARow {
		l.o.link.fails(&DeliverError{Class: Configuration, Code: "all-refused",
			Err: fmt.Errorf("%d results refused in a row, the last because: %s", l.refused, reason)})
		return jitter(l.o.opt.HoldFor)
	}
	return 0
}

func (l *lane) backoff(e *DeliverError) time.Duration {
	d := l.o.opt.BackoffMin << min(l.failures, 20)
	if d <= 0 || d > l.o.opt.BackoffMax {
		d = l.o.opt.BackoffMax
	}
	l.failures++
	return max(jitter(d), min(e.After, longestAfter))
}

// jitter shortens d by up to a half, so that many bridges do not come back to one server in step.
func jitter(d time.Duration) time.Duration {
	return d - time.Duration(rand.Int64N(int64(d)/2+1))
}

// read notes how reading the journal went, and gives the pause before the next try.
func (l *lane) read(err error) time.Duration {
	return l.journal(&l.unread, "journal-unread", "the journal cannot be read for delivery", err)
}

// journal says once that the journal fails, and once that it no longer does.
func (l *lane) journal(failing *bool, code, text string, err error) time.Duration {
	log, sink := l.o.opt.Logger, l.o.opt.Sink.Name()
	switch {
	case err != nil && !*failing:
		log.Error(text+"; it is tried again; check the disk", "code", code, "sink", sink, "error", err)
	case err == nil && *failing:
		log.Info("the journal works for delivery again", "code", "journal-works", "sink", sink)
	}
	*failing = err != nil
	if err == nil {
		return 0
	}
	return jitter(l.o.opt.BackoffMax)
}

// ready waits until the sink has its connection, if it holds one. It is false when ctx is done first.
func (l *lane) ready(ctx context.Context) bool {
	sink, ok := l.o.opt.Sink.(Readier)
	if !ok {
		return true
	}
	for {
		l.within(readySlice)
		slice, cancel := context.WithTimeout(ctx, readySlice)
		err := sink.Ready(slice)
		late := slice.Err() != nil
		cancel()
		switch {
		case err == nil:
			return true
		case ctx.Err() != nil:
			return false
		}
		e := asDeliverError(err, 0)
		if late && errors.Is(err, context.DeadlineExceeded) {
			e.Code, e.Err = "no-connection", errors.New("no connection")
		}
		l.o.link.fails(e)
		if !late && !l.sleep(ctx, l.backoff(e)) {
			return false
		}
	}
}

// pace waits until late rows may go again.
func (l *lane) pace(ctx context.Context) bool { return l.sleep(ctx, time.Until(l.next)) }

// paced notes that n late rows went.
func (l *lane) paced(n int) {
	if rate := l.o.opt.BacklogPerSecond; rate > 0 {
		l.next = time.Now().Add(time.Duration(float64(n) / rate * float64(time.Second)))
	}
}

// lateSize spreads late rows over the second instead of sending a second's worth at once.
func (l *lane) lateSize() int {
	rate := l.o.opt.BacklogPerSecond
	if rate <= 0 {
		return l.size()
	}
	return min(l.size(), max(1, int(rate/10)))
}
