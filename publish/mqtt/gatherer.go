package mqtt

import "sync"

// gathered is how many bytes a gatherer holds before who writes has to wait. It is little beside what the system holds
// of a connection, and some 20 messages.
const gathered = 8 << 10

// gatherer writes what comes in as few pieces as it can without holding anything back: while one piece is being written,
// what comes is gathered for the next. Its methods are safe for concurrent use.
type gatherer struct {
	write func(p []byte) error // one piece; called by one goroutine
	done  chan struct{}        // closed when that goroutine has ended

	mu      sync.Mutex
	changed sync.Cond
	next    []byte
	ending  bool
	failed  error
}

// newGatherer starts the goroutine that writes. It ends after end or fail.
func newGatherer(write func([]byte) error) *gatherer {
	g := &gatherer{write: write, done: make(chan struct{})}
	g.changed.L = &g.mu
	go g.run()
	return g
}

func (g *gatherer) run() {
	defer close(g.done)
	var piece []byte
	for {
		g.mu.Lock()
		for len(g.next) == 0 && !g.ending && g.failed == nil {
			g.changed.Wait()
		}
		if g.failed != nil || len(g.next) == 0 {
			g.mu.Unlock()
			return
		}
		piece, g.next = g.next, piece[:0]
		g.changed.Broadcast()
		g.mu.Unlock()
		if err := g.write(piece); err != nil {
			g.fail(err)
		}
	}
}

// Write takes p over, and fails with what an earlier piece failed with.
func (g *gatherer) Write(p []byte) (int, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	for len(g.next) > 0 && len(g.next)+len(p) > gathered && g.failed == nil && !g.ending {
		g.changed.Wait()
	}
	switch {
	case g.failed != nil:
		return 0, g.failed
	case g.ending:
		return 0, errLeft
	}
	g.next = append(g.next, p...)
	g.changed.Broadcast()
	return len(p), nil
}

// end writes what is there and ends the goroutine.
func (g *gatherer) end() {
	g.mu.Lock()
	g.ending = true
	g.changed.Broadcast()
	g.mu.Unlock()
	<-g.done
}

// fail forgets what is there and ends the goroutine. It does not wait: it may be called by it.
func (g *gatherer) fail(why error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.failed == nil {
		g.failed = why
	}
	g.changed.Broadcast()
}
