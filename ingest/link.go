package ingest

import (
	"context"
	"errors"
	"io"
	"sync/atomic"
	"time"

	"manobridge/ingest/frame"
)

// readSize bounds the bytes of one read. At 4 Mbit/s it is 1.3 ms of line.
const readSize = 512

// emptyReads is how many reads in a row may give neither bytes nor an error before the port counts as broken.
const emptyReads = 100

// message is what the reading goroutine tells the loop, in order. The queue holds pointers: it has room for many.
type message struct {
	kind    messageKind
	at      frame.Stamp
	bytes   []byte        // of a read; the message goes back to the pool with them
	err     error         // why the port is not there
	stalled time.Duration // how long the message before had to wait to be taken
	event   PortEvent     // that was told
}

type messageKind uint8

const (
	received messageKind = iota
	opened
	unopened
	lost
	told // by a port that asks
)

// link opens the port, reads it and opens it again until ctx ends, then closes in. It is the only goroutine that
// touches the port, save that the end of ctx closes it.
type link struct {
	open     Opener
	clock    Clock
	in       chan *message
	free     chan *message
	retry    backoff
	stalled  time.Duration // of the message before
	onStall  func(time.Duration)
	stalling atomic.Bool
	stallEnd atomic.Int64 // monotonic

	readWithin time.Duration // 0: not watched
	promise    promise
	port       portBox // while it is open
}

func (l *link) run(ctx context.Context) {
	defer close(l.in)
	defer l.promise.by.Store(0)
	for ctx.Err() == nil {
		l.within(0)
		port, err := l.open(ctx)
		if err != nil {
			if ctx.Err() != nil {
				return
			}
			l.send(&message{kind: unopened, at: l.clock.stamp(), err: err})
		} else {
			l.port.set(port)
			l.send(&message{kind: opened, at: l.clock.stamp()})
			heard, err := l.read(ctx, port)
			l.port.set(nil)
			if ctx.Err() != nil {
				return
			}
			if heard {
				l.retry.reset()
			}
			l.send(&message{kind: lost, at: l.clock.stamp(), err: err})
		}
		l.within(2 * l.retry.high) // as it is spread
		l.retry.wait(ctx)
	}
}

// read reads until the port fails or ctx ends, and closes the port. heard tells whether any byte came.
func (l *link) read(ctx context.Context, port io.ReadCloser) (heard bool, err error) {
	closed := make(chan error, 1)
	stop := context.AfterFunc(ctx, func() { closed <- port.Close() })
	defer func() {
		if stop() {
			closed <- port.Close()
		}
		<-closed // its error says nothing more: the port failed before, or we wanted it closed
	}()
	asking, _ := port.(newsPort)
	for empty := 0; empty < emptyReads; {
		l.within(l.readWithin)
		m := l.blank()
		n, err := port.Read(m.bytes[:readSize])
		if asking != nil {
			for _, one := range asking.news() {
				l.send(&message{kind: told, at: one.at, event: one.event})
			}
		}
		if n > 0 {
			heard, empty = true, 0
			m.at, m.bytes = l.clock.stamp(), m.bytes[:n]
			l.send(m)
		} else {
			l.release(m)
			empty++
		}
		if isTimeout(err) {
			empty = 0
			continue
		}
		if err != nil {
			return heard, err
		}
	}
	return heard, io.ErrNoProgress
}

func isTimeout(err error) bool {
	var t interface{ Timeout() bool }
	return errors.As(err, &t) && t.Timeout()
}

// send hands a message to the loop. It waits if it must, and counts that: meanwhile only the system's buffer stands
// between the line and a loss. It does not give up when ctx ends, so what was read arrives.
func (l *link) send(m *message) {
	m.stalled, l.stalled = l.stalled, 0
	select {
	case l.in <- m:
		return
	default:
	}
	start := l.clock.SinceStart()
	l.stalling.Store(true)
	l.in <- m
	end := l.clock.SinceStart()
	l.stallEnd.Store(int64(end))
	l.stalling.Store(false)
	l.stalled = end - start
	l.onStall(l.stalled)
}

// deafUntil is the latest moment, up to now, at which reading stood still.
func (l *link) deafUntil(now time.Duration) time.Duration {
	if l.stalling.Load() {
		return now
	}
	return time.Duration(l.stallEnd.Load())
}

// blank takes a message for a read from the pool or makes one; the pool cannot hold more than the queue.
func (l *link) blank() *message {
	select {
	case m := <-l.free:
		return m
	default:
		return &message{kind: received, bytes: make([]byte, readSize)}
	}
}

func (l *link) release(m *message) {
	select {
	case l.free <- m:
	default:
	}
}

// backoff spaces the attempts to open: doubling from low to high, each spread by a fifth to either side, so that ports
// lost together are not all tried in the same moment.
type backoff struct {
	low, high time.Duration
	jitter    func() float64 // 0 to 1
	next      time.Duration
}

func (b *backoff) reset() { b.next = 0 }

// wait waits for the next attempt, or until ctx ends.
func (b *backoff) wait(ctx context.Context) {
	b.next = min(max(2*b.next, b.low), b.high)
	t := time.NewTimer(time.Duration(float64(b.next) * (0.8 + 0.4*b.jitter())))
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-t.C:
	}
}
