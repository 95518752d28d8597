package bridge

import (
	"context"
	"errors"
	"sync"
	"time"

	"manobridge/convert"
)

// hand is what people do to a running bridge by hand. All of it belongs to the loop: whoever asks hands a function over,
// which the loop calls between two groups of readings, so that nothing here needs a lock.
type hand struct {
	asks  chan func()
	ended chan struct{} // closed when the loop has ended

	latest   map[string]*latest
	serviced map[string]*serviced
	zeroing  map[string]*collecting

	recomputing sync.Mutex // one at a time; not of the loop
}

// latest is what was last heard of an instrument.
type latest struct {
	result convert.Result // its Frame and Causes are the bridge's own to read only
	good   time.Time      // when the last one with a pressure to trust was received
}

func newHand() *hand {
	return &hand{asks: make(chan func()), ended: make(chan struct{}), latest: map[string]*latest{}, serviced: map[string]*serviced{},
		zeroing: map[string]*collecting{}}
}

// errStopping says that the loop has ended, so nothing can be done any more.
var errStopping = errors.New("the bridge is stopping; nothing was done")

// inLoop has the loop call f, and returns when it has. Where it returns an error f was not called and will not be.
func (b *Bridge) inLoop(ctx context.Context, f func()) error {
	done := make(chan struct{})
	select {
	case b.hand.asks <- func() { defer close(done); f() }:
		<-done
		return nil
	case <-b.hand.ended:
		return errStopping
	case <-ctx.Done():
		return ctx.Err()
	}
}

// mark adds to a result what people do to its instrument at that time. A zero that is being taken has its reading before.
func (h *hand) mark(r *convert.Result) {
	if c := h.zeroing[r.Instrument]; c != nil {
		c.take(r)
		r.Mark(&convert.Refusal{Code: convert.ZeroCheck, Field: "instrument", Seen: "has both ports open: its zero is being taken"})
	}
	if s := h.serviced[r.Instrument]; s != nil {
		r.Mark(s.refusal())
	}
}

// see remembers a result for whoever looks.
func (h *hand) see(r *convert.Result) {
	l := h.latest[r.Instrument]
	if l == nil {
		l = &latest{}
		h.latest[r.Instrument] = l
	}
	l.result = *r
	if r.Status == convert.Good {
		l.good = r.ReceivedAt
	}
}
