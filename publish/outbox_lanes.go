package publish

import (
	"context"
	"slices"
	"time"
)

// runLive delivers what was read just now, and leaves what has become late to the late lane. With OneLane it delivers
// everything.
func (o *Outbox) runLive(ctx, work context.Context) error {
	l := &lane{o: o, done: o.at.doneLive, promise: &o.promises[0]}
	defer l.idle()
	defer l.dropAhead()
	for {
		l.idle()
		if err := o.wait(ctx); err != nil {
			if ctx.Err() == nil {
				return err
			}
			break
		}
		l.gather(ctx)
		l.within(0)
		if !l.ready(ctx) {
			break
		}
		batch, pause := l.take(ctx)
		if o.opt.OneLane && len(batch) > 0 && o.late(&batch[0]) {
			if !l.pace(ctx) {
				break
			}
			l.paced(len(batch))
		}
		if len(batch) > 0 {
			l.readAhead(ctx, batch, l.liveSize())
			pause = l.deliver(work, batch)
			l.gathered = time.Now().Add(o.opt.Gather)
		}
		if !l.sleep(ctx, pause) {
			break
		}
	}
	l.flush(work)
	return nil
}

// gather waits until rows have waited long enough for others to go with them, a whole batch is there, or ctx is done.
func (l *lane) gather(ctx context.Context) {
	o := l.o
	if !o.opt.OneLane || o.opt.Gather <= 0 {
		return
	}
	ctx, cancel := context.WithDeadline(ctx, l.gathered)
	defer cancel()
	_ = o.opt.Rows.Wait(ctx, o.at.live()+int64(l.size())-1) // however it ends, what is there goes; a journal that is closed shows next
}

// liveSize is how many rows a delivery of the live lane takes.
func (l *lane) liveSize() int {
	if rate := l.o.opt.BacklogPerSecond; l.o.opt.OneLane && l.window == 0 && rate > 0 {
		return min(l.size(), max(1, int(rate)))
	}
	return l.size()
}

// take gives the next rows to deliver. In two lanes it passes late rows, so it may give none without a pause.
func (l *lane) take(ctx context.Context) ([]Row, time.Duration) {
	o := l.o
	after, last := o.at.live(), o.opt.Rows.Last()
	rows, err := l.rows(ctx, after, l.liveSize())
	if err != nil && ctx.Err() != nil {
		return nil, 0
	}
	if pause := l.read(err); pause > 0 {
		return nil, pause
	}
	if len(rows) == 0 {
		if last > after {
			o.at.doneLive(last, 0) // numbers without rows: pruned
		}
		return nil, 0
	}
	end, read := rows[len(rows)-1].ID, len(rows)
	if rows = published(rows); len(rows) == 0 {
		o.at.doneLive(end, read)
		return nil, 0
	}
	if o.opt.OneLane {
		return rows, 0
	}
	now, since := time.Now(), o.opt.SinceStart()
	late := o.lateAt(&rows[0], since)
	n := 1
	for n < len(rows) && o.lateAt(&rows[n], since) == late {
		n++
	}
	if late {
		end := rows[n-1].ID
		if n == len(rows) {
			end = o.lastLate(ctx, end, last)
		}
		o.at.leaveLate(end, n)
		l.window = 0
		return nil, 0
	}
	for i := range rows[:n] {
		rows[i].FreshUntil = now.Add(o.opt.LiveWithin - (since - rows[i].SinceStart))
	}
	return rows[:n], 0
}

// lastLate gives a late row close before the first one that may be live, between a row known to be late and the last row. It
// halves instead of reading every row, so that live values do not wait for a long backlog to be passed. Rows age in the order
// of the journal; one that does not is at worst delivered as a late one.
func (o *Outbox) lastLate(ctx context.Context, late, last int64) int64 {
	for until := last; until-late > int64(o.opt.Batch); {
		middle := late + (until-late)/2
		rows, err := o.opt.Rows.Rows(ctx, middle, 1)
		if err != nil {
			break // what is known is left to the late lane; the next reading says what is wrong
		}
		if len(rows) > 0 && rows[0].ID <= until && o.late(&rows[0]) {
			late = rows[0].ID
		} else {
			until = middle
		}
	}
	return late
}

// flush delivers, at a stop, what is live and waiting. It makes no second try.
func (l *lane) flush(work context.Context) {
	o := l.o
	if o.link.isDown() {
		return
	}
	for last := o.opt.Rows.Last(); o.at.live() < last && work.Err() == nil; {
		batch, pause := l.take(work)
		if len(batch) > 0 {
			if o.opt.OneLane && o.late(&batch[0]) {
				return // a backlog: it is there after the next start
			}
			pause = l.deliver(work, batch)
		}
		if pause > 0 {
			return
		}
	}
}

// runLate delivers what an outage or an earlier run left behind, in order and at a bounded rate.
func (o *Outbox) runLate(ctx, work context.Context) error {
	l := &lane{o: o, done: o.at.doneLate, promise: &o.promises[1]}
	defer l.idle()
	defer l.dropAhead()
	for ctx.Err() == nil {
		r, ok := o.at.front()
		if !ok {
			l.idle()
			select {
			case <-o.at.more:
			case <-ctx.Done():
			}
			continue
		}
		if !l.pace(ctx) || !l.ready(ctx) {
			return nil
		}
		batch, pause := l.takeLate(ctx, r)
		if len(batch) > 0 {
			l.paced(len(batch))
			l.readAhead(ctx, batch, l.lateSize())
			pause = l.deliver(work, batch)
		}
		if !l.sleep(ctx, pause) {
			return nil
		}
	}
	return nil
}

// takeLate gives the next rows of the range.
func (l *lane) takeLate(ctx context.Context, r Range) ([]Row, time.Duration) {
	rows, err := l.rows(ctx, r.From, l.lateSize())
	if err != nil && ctx.Err() != nil {
		return nil, 0
	}
	if pause := l.read(err); pause > 0 {
		return nil, pause
	}
	n := 0
	for n < len(rows) && rows[n].ID <= r.Until {
		rows[n].Late = true
		n++
	}
	if n == 0 {
		l.o.at.doneLate(r.Until, 0) // no rows of these numbers: pruned
		return nil, 0
	}
	end := rows[n-1].ID
	if rows = published(rows[:n]); len(rows) == 0 {
		l.o.at.doneLate(end, n)
	}
	return rows, 0
}

// published takes out the samples. The average that they belong to comes after them, or what cut their window short, and
// the cursor moves over them with the next row.
func published(rows []Row) []Row {
	return slices.DeleteFunc(rows, func(r Row) bool { return r.Sample })
}
