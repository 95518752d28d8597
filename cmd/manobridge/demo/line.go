package demo

import (
	"context"
	"fmt"
	"os"
	"time"

	"manobridge/cmd/manobridge/demo/simulate"
)

// serialLine is a pseudo-terminal: the demo writes to its one end what a digitizer would send, the bridge opens the other
// by its path, through the same library as a real port.
type serialLine struct {
	name string
	path string
	near *os.File // written to; deadlines work on it
	far  *os.File // held open, so that nothing is lost while the bridge has the port closed, and looked at
}

// look is how often the state of a line is looked at: it has no way to tell by itself.
const look = 5 * time.Millisecond

// settled is how many looks in a row must find a line empty: the kernel passes bytes from one end to the other a
// moment after they were written.
const settled = 10

// poll waits until met has been true n times in a row.
func poll(ctx context.Context, n int, met func() (bool, error)) error {
	tick := time.NewTicker(look)
	defer tick.Stop()
	for row := 0; ; {
		ok, err := met()
		switch {
		case err != nil:
			return err
		case ok:
			row++
		default:
			row = 0
		}
		if row >= n {
			return nil
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// awaitReader waits until the bridge listens, and makes sure that it starts at the beginning of a line. A reader drops
// what came before it opened the port, and then what comes before the first line end: it cannot know whether that was
// a whole frame. So it gets two empty lines: one to throw away when it opens, one to start after.
func (l *serialLine) awaitReader(ctx context.Context) error {
	if err := poll(ctx, 1, l.opened); err != nil {
		return fmt.Errorf("%s: nobody opened %s: %w", l.name, l.path, err)
	}
	for range 2 {
		if err := l.write(ctx, []byte("\r\n")); err != nil {
			return err
		}
		if err := l.drained(ctx); err != nil {
			return err
		}
	}
	return nil
}

// drained waits until everything written has been read.
func (l *serialLine) drained(ctx context.Context) error {
	err := poll(ctx, settled, func() (bool, error) {
		n, err := l.unread()
		return n == 0, err
	})
	if err != nil {
		return fmt.Errorf("%s: frames are left in the line, the reader of %s has stopped: %w", l.name, l.path, err)
	}
	return nil
}

// write sends all of b; a line nobody reads takes some thousand bytes and then blocks, until ctx ends.
func (l *serialLine) write(ctx context.Context, b []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	release := context.AfterFunc(ctx, func() { _ = l.near.SetWriteDeadline(time.Unix(1, 0)) })
	defer release()
	if _, err := l.near.Write(b); err != nil {
		if ctx.Err() != nil {
			err = ctx.Err()
		}
		return fmt.Errorf("%s: write to %s: %w", l.name, l.path, err)
	}
	return nil
}

// send plays the digitizer of one port until its frames reach limit (0: for ever) or stop ends. It enters every frame
// into the ledger. stop ends it between two frames, ctx at once.
func (l *serialLine) send(ctx, stop context.Context, frames *simulate.Line, limit time.Duration, wait waiter, ledger *simulate.Ledger) error {
	for {
		f := frames.Next()
		if limit > 0 && f.At >= limit || !wait(stop, f.At) {
			return ctx.Err()
		}
		ledger.Sending(f)
		if err := l.write(ctx, f.Bytes); err != nil {
			ledger.Withdraw(f)
			return err
		}
	}
}

// waiter waits until a moment counted from the start of the story; false when ctx has ended.
type waiter func(ctx context.Context, at time.Duration) bool

// clock is the waiter that goes by the wall clock.
func clock(start time.Time) waiter {
	return func(ctx context.Context, at time.Duration) bool {
		t := time.NewTimer(time.Until(start.Add(at)))
		defer t.Stop()
		select {
		case <-t.C:
			return true
		case <-ctx.Done():
			return false
		}
	}
}

// atOnce is the waiter that does not wait: the story runs as fast as the line is read.
func atOnce(ctx context.Context, _ time.Duration) bool { return ctx.Err() == nil }
