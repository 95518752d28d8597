package publish

import "context"

// ahead is rows that are read while those before them are being delivered.
type ahead struct {
	after int64
	limit int
	rows  []Row
	err   error
	done  chan struct{}
}

// aheadLeast is how few rows are not worth reading ahead.
const aheadLeast = 100

// readAhead begins to read up to limit rows after the batch, where there are so many. The lane waits for them in rows, or at
// its end in dropAhead.
func (l *lane) readAhead(ctx context.Context, batch []Row, limit int) {
	a := &ahead{after: batch[len(batch)-1].ID, limit: limit, done: make(chan struct{})}
	if l.ahead != nil || l.window != 0 || limit < aheadLeast || l.o.opt.Rows.Last()-a.after < int64(limit) {
		return
	}
	l.ahead = a
	go func() {
		defer close(a.done)
		a.rows, a.err = l.o.opt.Rows.Rows(ctx, a.after, a.limit)
	}()
}

// rows gives up to limit rows after one of the journal. That there are none is never taken from what was read ahead: it would
// be an old answer, and rows that came since would be passed over as numbers without rows.
func (l *lane) rows(ctx context.Context, after int64, limit int) ([]Row, error) {
	if a := l.dropAhead(); a != nil && a.after == after && a.limit == limit && a.err == nil && len(a.rows) > 0 {
		return a.rows, nil
	}
	return l.o.opt.Rows.Rows(ctx, after, limit)
}

// dropAhead gives what is read ahead, nil where nothing is, and forgets it.
func (l *lane) dropAhead() *ahead {
	a := l.ahead
	if l.ahead = nil; a != nil {
		<-a.done
	}
	return a
}
