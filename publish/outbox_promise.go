package publish

import (
	"context"
	"sync/atomic"
	"time"
)

// promise is when a lane said that it would be back at the latest, in ns since a fixed moment; 0 while it only waits for rows.
// A lane whose far end cannot be reached keeps its promises; one that hangs does not.
type promise struct{ by atomic.Int64 }

// promiseMargin is what a busy machine or a slow disk may add to any step.
const promiseMargin = 30 * time.Second

// within promises to be back in d.
func (l *lane) within(d time.Duration) {
	l.promise.by.Store(int64(l.o.opt.SinceStart() + max(d, 0) + promiseMargin))
}

func (l *lane) idle() { l.promise.by.Store(0) }

// sleep is a pause that is promised.
func (l *lane) sleep(ctx context.Context, d time.Duration) bool {
	l.within(d)
	return sleep(ctx, d)
}

// Stuck tells whether a lane has not come back from what it was doing though its time is up. It is safe for concurrent use.
func (o *Outbox) Stuck() bool {
	now := int64(o.opt.SinceStart())
	for i := range o.promises {
		if by := o.promises[i].by.Load(); by != 0 && now > by {
			return true
		}
	}
	return false
}
