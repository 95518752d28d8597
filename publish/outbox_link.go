package publish

import (
	"errors"
	"sync"
	"time"
)

// LinkState is what an outbox knows of its far end.
type LinkState string

// The states.
const (
	LinkUnknown LinkState = "unknown" // nothing has been delivered or refused yet
	LinkUp      LinkState = "up"      // the last delivery was acknowledged
	LinkDown    LinkState = "down"    // the far end cannot be reached or is busy
	LinkRefused LinkState = "refused" // the far end does not let the bridge in: a person must act
)

// link keeps the state of the far end, counts, and says each change once.
type link struct {
	opt *Options
	lag func() int64

	mu       sync.Mutex
	s        Stats     // Live, Late, Quarantined, Link, Since, LastError
	down     time.Time // when the outage began, with the monotonic clock; zero when there is none
	said     map[LinkState]bool
	asideAt  time.Time // when a row put aside was last logged
	asideNow int64     // rows put aside and not logged since
}

const asideEvery = time.Minute

func newLink(opt *Options, lag func() int64) *link {
	return &link{opt: opt, lag: lag, s: Stats{Link: LinkUnknown}, said: map[LinkState]bool{}}
}

func (k *link) fill(s *Stats) {
	k.mu.Lock()
	defer k.mu.Unlock()
	s.Live, s.Late, s.Quarantined = k.s.Live, k.s.Late, k.s.Quarantined
	s.Outages, s.Suspects = k.s.Outages, k.s.Suspects
	s.Link, s.Since, s.LastError = k.s.Link, k.s.Since, k.s.LastError
}

func (k *link) count(live, late int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.s.Live += int64(live)
	k.s.Late += int64(late)
}

// isDown tells whether the last delivery failed on the way.
func (k *link) isDown() bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.s.Link == LinkDown || k.s.Link == LinkRefused
}

func (k *link) become(s LinkState) {
	if k.s.Link != s {
		k.s.Link, k.s.Since = s, k.opt.Now()
	}
}

// works notes that the far end has acknowledged something.
func (k *link) works() {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.s.Link == LinkUp {
		return
	}
	backlog := k.lag()
	k.become(LinkUp)
	if k.down.IsZero() {
		k.opt.Logger.Info("results reach the sink", "code", "sink-up", "sink", k.opt.Sink.Name(), "backlog_rows", backlog)
		return
	}
	k.opt.Logger.Info("results reach the sink again; what was kept is delivered now", "code", "sink-up",
		"sink", k.opt.Sink.Name(), "outage_s", time.Since(k.down).Round(100*time.Millisecond).Seconds(), "backlog_rows", backlog)
	k.down = time.Time{}
	clear(k.said)
}

// fails notes that a delivery failed on the way, or that a person must act.
func (k *link) fails(e *DeliverError) {
	state, code := LinkDown, "sink-down"
	if e.Class == Configuration {
		state, code = LinkRefused, "sink-refused"
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.s.LastError = e.Error()
	if e.Class == Suspect {
		k.s.Suspects++
	}
	if k.down.IsZero() {
		k.down = time.Now()
		k.s.Outages++
	}
	k.become(state)
	if k.said[state] {
		return
	}
	k.said[state] = true
	attrs := []any{"code", code, "sink", k.opt.Sink.Name(), "cause", e.Code, "error", e.Err}
	if state == LinkRefused {
		k.opt.Logger.Error("the sink does not take results from this bridge; they are kept and tried again slowly; "+
			"check address, user, password or token, and rights", attrs...)
		return
	}
	k.opt.Logger.Warn("results do not reach the sink; they are kept and delivered when it answers again; "+
		"check network and server", attrs...)
}

// aside notes that a row was put aside. Past the first in a minute rows are counted only; the journal names each.
func (k *link) aside(r *Row, reason string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.s.Quarantined++
	k.s.LastError = reason
	now := time.Now()
	if !k.asideAt.IsZero() && now.Sub(k.asideAt) < asideEvery {
		k.asideNow++
		return
	}
	k.opt.Logger.Warn("the sink refuses one result; it is put aside in the journal and delivery goes on; "+
		"check the reason", "code", "row-quarantined", "instrument", r.Instrument, "seq", r.Seq, "run", r.Run,
		"sink", k.opt.Sink.Name(), "row", r.ID, "others_rows", k.asideNow, "error", reason)
	k.asideAt, k.asideNow = now, 0
}

// dropped counts rows put aside because the far end acknowledged and dropped them.
func (k *link) dropped(n int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.s.Quarantined += int64(n)
	k.s.LastError = droppedReason
}

// cursorKept says that the cursor can no longer be made durable, or can again.
func (k *link) cursorKept(err error) {
	if err == nil {
		k.opt.Logger.Info("what has been delivered is kept in the journal again", "code", "cursor-kept", "sink", k.opt.Sink.Name())
		return
	}
	k.opt.Logger.Warn("what has been delivered cannot be kept in the journal; delivery goes on, and after a restart "+
		"some results are delivered twice; check the disk", "code", "cursor-unkept", "sink", k.opt.Sink.Name(), "error", err)
}

// asDeliverError gives the error in the form every failed delivery should have.
func asDeliverError(err error, rows int) *DeliverError {
	var e *DeliverError
	if !errors.As(err, &e) {
		return &DeliverError{Class: Transient, Code: "sink-failed", Err: err}
	}
	known := *e
	known.Acked = min(max(0, e.Acked), rows)
	known.Err = err
	return &known
}
