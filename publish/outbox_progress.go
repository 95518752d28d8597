package publish

import (
	"context"
	"slices"
	"sync"
	"time"
)

// maxRanges bounds the cursor. A link that comes and goes leaves a late range each time; past the bound the newest two
// are joined, and the live rows between them are delivered once more as late ones.
const maxRanges = 256

// progress is the cursor in memory. Only the live lane moves Live and the end of Late, only the late lane its front.
type progress struct {
	mu    sync.Mutex
	c     Cursor
	held  int64 // the cursor is kept as no further than this; -1: as it is
	dirty int   // rows the cursor has passed since it was kept

	many chan struct{} // signals that dirty is large
	more chan struct{} // signals that there are late rows
}

func newProgress() *progress {
	return &progress{held: -1, many: make(chan struct{}, 1), more: make(chan struct{}, 1)}
}

func (p *progress) cursor() Cursor {
	p.mu.Lock()
	defer p.mu.Unlock()
	return Cursor{Live: p.c.Live, Late: slices.Clone(p.c.Late)}
}

func (p *progress) live() int64 {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.c.Live
}

// passed notes that the cursor has moved over n rows. The caller holds mu.
func (p *progress) passed(n int) {
	p.dirty += max(1, n)
	if p.dirty >= saveRows {
		wake(p.many)
	}
}

// doneLive moves the live cursor over n rows that are done with, up to id.
func (p *progress) doneLive(id int64, n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.c.Live = id
	p.passed(n)
}

// leaveLate moves the live cursor over n rows up to id and leaves them to the late lane.
func (p *progress) leaveLate(id int64, n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	late := p.c.Late
	if end := len(late) - 1; end >= 0 && (late[end].Until == p.c.Live || len(late) >= maxRanges) {
		late[end].Until = id
	} else {
		p.c.Late = append(late, Range{From: p.c.Live, Until: id})
	}
	p.c.Live = id
	p.passed(n)
	wake(p.more)
}

// front gives the oldest late rows.
func (p *progress) front() (Range, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.c.Late) == 0 {
		return Range{}, false
	}
	return p.c.Late[0], true
}

// doneLate moves the front over n rows that are done with, up to id.
func (p *progress) doneLate(id int64, n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.c.Late[0].From = id; id >= p.c.Late[0].Until {
		p.c.Late = slices.Delete(p.c.Late, 0, 1)
	}
	p.passed(n)
}

// rewind moves the live cursor back to id, so that all after it is delivered again. It is for the live lane.
func (p *progress) rewind(id int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.c.Live = min(p.c.Live, id)
	p.passed(saveRows)
}

// hold keeps the durable cursor at id or before; -1 ends that.
func (p *progress) hold(id int64) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.held = id
	p.passed(saveRows)
}

// durable is the cursor as it is to be kept.
func (p *progress) durable() Cursor {
	c := p.cursor()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.held >= 0 {
		c.Live = min(c.Live, p.held)
	}
	return c
}

func wake(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// load takes up where the sink was left. A sink without a cursor gets everything that is in the journal.
func (o *Outbox) load(ctx context.Context) error {
	c, known, err := o.opt.Rows.Cursor(ctx, o.opt.Sink.Name())
	if err != nil || !known {
		return err
	}
	if o.opt.OneLane && len(c.Late) > 0 { // it had two lanes before: what was live in between is delivered again
		c = Cursor{Live: min(c.Live, c.Late[0].From)}
	}
	if last := o.opt.Rows.Last(); c.Live > last {
		o.opt.Logger.Warn("the journal is shorter than what was delivered from it; delivery goes on at its end; "+
			"check whether an older copy of the journal was put in place",
			"code", "journal-short", "sink", o.opt.Sink.Name(), "cursor", c.Live, "last_row", last)
		c.Live = last
	}
	o.at.mu.Lock()
	defer o.at.mu.Unlock()
	o.at.c = Cursor{Live: c.Live, Late: slices.Clone(c.Late)}
	return nil
}

// save keeps the cursor until the lanes have ended.
func (o *Outbox) save(ended <-chan struct{}) {
	tick := time.NewTicker(saveEvery)
	defer tick.Stop()
	pause := time.NewTimer(0)
	defer pause.Stop()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	failed := false
	for {
		select {
		case <-ended:
			return
		case <-pause.C:
		}
		select {
		case <-ended:
			return
		case <-tick.C:
		case <-o.at.many:
		}
		pause.Reset(savePause)
		err := o.saveNow(ctx)
		if (err != nil) != failed {
			failed = err != nil
			o.link.cursorKept(err)
		}
	}
}

// saveNow makes the cursor durable if it has moved since it last was.
func (o *Outbox) saveNow(ctx context.Context) error {
	o.at.mu.Lock()
	n := o.at.dirty
	o.at.dirty = 0
	o.at.mu.Unlock()
	if n == 0 {
		return nil
	}
	err := o.opt.Rows.SaveCursor(ctx, o.opt.Sink.Name(), o.at.durable())
	if err != nil {
		o.at.mu.Lock()
		o.at.dirty += n
		o.at.mu.Unlock()
	}
	return err
}
