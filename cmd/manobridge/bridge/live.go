package bridge

import (
	"context"
	"errors"
	"sync"

	"manobridge/ingest"
)

// live is what runs between the begin and the end of Run.
type live struct {
	ctx   context.Context // ends when the bridge is to stop
	stop  context.CancelFunc
	sinks context.Context // ends when the sinks are to drain
	items chan ingest.Item

	ports, deliveries sync.WaitGroup

	// turns are functions for the loop, each with an item whose event is barrier, known by its address.
	turns   chan func()
	barrier ingest.PortEvent
	looped  chan struct{} // closed when the loop has ended

	reloading sync.Mutex // one at a time
	// Under reloading.
	running bool // a reload may begin
	numbers numbers
}

var errEnding = errors.New("the bridge is stopping")

// begin starts the sinks and the ports.
func (b *Bridge) begin(ctx context.Context, stop context.CancelFunc, sinks context.Context) chan ingest.Item {
	l := &b.live
	l.reloading.Lock()
	defer l.reloading.Unlock()
	l.ctx, l.stop, l.sinks = ctx, stop, sinks
	l.items, l.turns, l.looped = make(chan ingest.Item, 1024), make(chan func(), 1), make(chan struct{})
	for _, x := range b.boxes {
		b.send(x)
	}
	for _, one := range b.lines {
		b.start(one)
	}
	l.numbers = numbers{readings: map[string]uint64{}, events: map[string]uint64{}}
	l.running = true
	return l.items
}

// noMoreReloads waits for the one under way, if any.
func (b *Bridge) noMoreReloads() {
	b.live.reloading.Lock()
	defer b.live.reloading.Unlock()
	b.live.running = false
}

// turn has the loop run f after everything that was handed over before, and waits for it. The caller holds reloading.
func (b *Bridge) turn(f func()) error {
	l := &b.live
	done := make(chan struct{})
	select {
	case l.turns <- func() { defer close(done); f() }:
	case <-l.looped:
		return errEnding
	}
	select {
	case l.items <- ingest.Item{Event: &l.barrier}:
	case <-l.looped:
		return errEnding
	}
	select {
	case <-done:
		return nil
	case <-l.looped:
		return errEnding
	}
}
