package publish

import (
	"context"
	"math/rand/v2"
	"sync"
	"time"
)

// ReadBacker is a Sink whose far end can be asked for what it was given.
type ReadBacker interface {
	// ReadBack gives those of the rows that the far end does not have. Where it cannot be asked at all, the error is or
	// wraps a *DeliverError of the class Configuration.
	ReadBack(ctx context.Context, rows []Row) (missing []Row, err error)
}

// Dropped says what a far end has acknowledged and does not have.
type Dropped struct {
	Sink  string
	After int64 // the last row known to be there, or the place where delivery began
	Until int64 // the last row that was acknowledged when it was found
	Rows  int   // found missing: of those asked for, or of all when Again
	Row   Row   // one of them
	Again bool  // it was sent twice and dropped twice: the rows are named in quarantine
}

// droppedReason is the reason in quarantine.
const droppedReason = "acknowledged and dropped"

// readWithin bounds one question to the far end.
const readWithin = time.Minute

// picks are the rows of one instrument that are asked back: of those acknowledged since the last time, that with the
// earliest time and that with the latest, because a store drops what is too old or in the future, and one by chance.
type picks struct {
	first, last, any Row
	n                int64
}

// maxPicks bounds how many instruments are looked at in one period.
const maxPicks = 1000

// readBack looks whether what the far end has acknowledged is there.
//
// It keeps nothing durable of its own: rows to be sent again are those after the cursor, which it moves back.
type readBack struct {
	o    *Outbox
	sink ReadBacker

	mu     sync.Mutex
	picked map[string]*picks
	newest int64          // the last row acknowledged or put aside
	aside  map[int64]bool // rows of the span under repair that were put aside meanwhile
	again  int64          // where the live lane has to go back to; -1: nowhere
	spent  int64          // rows up to here were sent a second time and are not picked
	wake   context.CancelFunc

	// Of run alone.
	settle    time.Duration
	confirmed int64 // all up to here is there, or named, or was delivered before the start
	repair    Range // was sent again, and is looked at row by row; Until 0: none
	silent    bool  // the far end cannot be asked, and that was said
	drops     bool  // the far end drops results, and that was said
	dropsAll  bool  // also that it does so each time
}

func newReadBack(o *Outbox, sink ReadBacker) *readBack {
	return &readBack{o: o, sink: sink, picked: map[string]*picks{}, again: -1}
}

// wait waits for rows, and moves the cursor back where rows are to be sent again.
func (o *Outbox) wait(ctx context.Context) error {
	if o.back == nil {
		return o.opt.Rows.Wait(ctx, o.at.live())
	}
	for {
		waiting, cancel := context.WithCancel(ctx)
		o.back.mu.Lock()
		o.back.wake = cancel
		if o.back.again >= 0 {
			o.at.rewind(o.back.again)
			o.back.again = -1
		}
		o.back.mu.Unlock()
		err := o.opt.Rows.Wait(waiting, o.at.live())
		woken := waiting.Err() != nil && ctx.Err() == nil
		cancel()
		if !woken {
			return err
		}
	}
}

// acked notes rows that the far end has acknowledged.
func (b *readBack) acked(rows []Row) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range rows {
		r := &rows[i]
		if r.ID <= b.spent {
			continue // judged one by one, or named already
		}
		p := b.picked[r.Instrument]
		if p == nil {
			if len(b.picked) >= maxPicks {
				continue
			}
			p = &picks{first: *r, last: *r, any: *r}
			b.picked[r.Instrument] = p
		}
		p.n++
		if r.ReceivedAt.Before(p.first.ReceivedAt) {
			p.first = *r
		}
		if r.ReceivedAt.After(p.last.ReceivedAt) {
			p.last = *r
		}
		if rand.Int64N(p.n) == 0 {
			p.any = *r
		}
	}
	b.newest = max(b.newest, rows[len(rows)-1].ID)
}

func (b *readBack) putAside(id int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.newest = max(b.newest, id)
	if b.aside != nil {
		b.aside[id] = true
	}
}

// take gives what was picked, and the last row it speaks for. Picking begins anew.
func (b *readBack) take() (picked map[string]*picks, until int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	picked, b.picked = b.picked, map[string]*picks{}
	return picked, b.newest
}

// putBack picks again what could not be asked for.
func (b *readBack) putBack(picked map[string]*picks) {
	for _, p := range picked {
		n := p.n
		b.acked([]Row{p.first, p.last, p.any})
		b.mu.Lock()
		if q := b.picked[p.first.Instrument]; q != nil {
			q.n += n - min(n, 3)
		}
		b.mu.Unlock()
	}
}

// begin notes where delivery begins, before the first row goes.
func (b *readBack) begin() {
	b.confirmed = b.o.at.live()
	b.newest, b.spent = b.confirmed, b.confirmed
}

// run asks from time to time until ctx is done. A row that is dropped is found within ReadBack of its acknowledgement.
func (b *readBack) run(ctx context.Context) {
	b.settle = min(b.o.opt.SettleWithin, b.o.opt.ReadBack/3)
	for sleep(ctx, b.o.opt.ReadBack-2*b.settle) {
		picked, until := b.take()
		if !sleep(ctx, b.settle) {
			return
		}
		if len(picked) > 0 && !b.sample(ctx, picked, until) {
			b.putBack(picked)
		}
	}
}

// sample asks for what was picked. It tells whether there was an answer.
func (b *readBack) sample(ctx context.Context, picked map[string]*picks, until int64) bool {
	var rows []Row
	for _, p := range picked {
		rows = append(rows, p.first, p.last, p.any)
	}
	missing, ok := b.ask(ctx, rows)
	switch {
	case !ok:
		return false
	case len(missing) == 0:
		b.confirmed = until
		if b.drops {
			b.o.opt.Logger.Info("the sink keeps what it acknowledges again", "code", "row-dropped-over", "sink", b.o.opt.Sink.Name())
			b.drops, b.dropsAll = false, false
		}
		return true
	}
	d := Dropped{Sink: b.o.opt.Sink.Name(), After: b.confirmed, Until: until, Rows: len(missing), Row: missing[0]}
	if !b.drops {
		b.o.opt.Logger.Error("the sink has acknowledged results and does not have them; all since the last that were found "+
			"there are sent again; check what the store keeps, its clock and this machine's",
			"code", "row-dropped", "instrument", d.Row.Instrument, "seq", d.Row.Seq, "run", d.Row.Run, "sink", d.Sink,
			"row", d.Row.ID, "received_at", d.Row.ReceivedAt, "missing_rows", d.Rows, "asked_rows", len(rows),
			"again_after_row", d.After, "again_until_row", d.Until)
	}
	b.drops = true
	b.tell(d)
	b.o.at.hold(b.confirmed) // so that a stop or a kill before all is judged makes the next run send it again
	b.mu.Lock()
	b.aside, b.again, b.spent = map[int64]bool{}, b.confirmed, until
	if b.wake != nil {
		b.wake()
	}
	b.mu.Unlock()
	b.repair = Range{From: b.confirmed, Until: until}
	b.judge(ctx)
	return true
}

// judge waits until the span was sent again, and names every row of it that is still not there.
func (b *readBack) judge(ctx context.Context) {
	const step = time.Second
	settled := false
	for !settled || b.pending() {
		if settled = !b.pending(); !sleep(ctx, map[bool]time.Duration{true: b.settle, false: step}[settled]) {
			return
		}
	}
	b.mu.Lock()
	aside := b.aside
	b.aside = nil
	b.mu.Unlock()
	named := Dropped{Sink: b.o.opt.Sink.Name(), After: b.repair.From, Until: b.repair.Until, Again: true}
	reader := &lane{o: b.o, promise: new(promise)}
	for at := b.repair.From; at < b.repair.Until; {
		rows, err := b.o.opt.Rows.Rows(ctx, at, b.o.opt.Batch)
		if pause := reader.read(err); pause > 0 {
			if !sleep(ctx, pause) {
				return
			}
			continue
		}
		if len(rows) == 0 {
			break // pruned
		}
		at = rows[len(rows)-1].ID
		var asked []Row
		for _, r := range published(rows) {
			if r.ID <= b.repair.Until && !aside[r.ID] {
				asked = append(asked, r)
			}
		}
		missing, ok := b.ask(ctx, asked)
		for !ok {
			if !sleep(ctx, b.o.opt.BackoffMax) {
				return
			}
			missing, ok = b.ask(ctx, asked)
		}
		if len(missing) > 0 {
			if !b.quarantine(ctx, reader, missing) {
				return
			}
			named.Rows += len(missing)
			named.Row = missing[0]
		}
	}
	b.confirmed = b.repair.Until
	b.o.at.hold(-1)
	log := b.o.opt.Logger
	if named.Rows == 0 {
		log.Info("the sink has the results that were sent again", "code", "row-dropped-repaired", "sink", named.Sink,
			"until_row", named.Until)
		return
	}
	if !b.dropsAll {
		log.Error("the sink drops results each time it has acknowledged them; they are named in the journal's quarantine and not "+
			"sent a third time; check what the store keeps, its clock and this machine's",
			"code", "row-dropped-again", "instrument", named.Row.Instrument, "seq", named.Row.Seq, "run", named.Row.Run,
			"sink", named.Sink, "row", named.Row.ID, "received_at", named.Row.ReceivedAt, "missing_rows", named.Rows)
	}
	b.dropsAll = true
	b.tell(named)
}

// pending tells whether rows of the span under repair are still to be sent.
func (b *readBack) pending() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.again >= 0 || b.o.at.live() < b.repair.Until
}

// atOnce is how many rows are put aside beside one another, so that one commit of the journal takes many.
const atOnce = 64

// quarantine names the rows, however long the journal takes. It is false when ctx was done first.
func (b *readBack) quarantine(ctx context.Context, reader *lane, rows []Row) bool {
	for len(rows) > 0 {
		part := rows[:min(len(rows), atOnce)]
		errs := make([]error, len(part))
		var all sync.WaitGroup
		for i := range part {
			all.Go(func() { errs[i] = b.o.opt.Rows.Quarantine(ctx, b.o.opt.Sink.Name(), part[i].ID, droppedReason) })
		}
		all.Wait()
		var failed error
		for _, err := range errs {
			if err != nil {
				failed = err
			}
		}
		pause := reader.journal(&reader.unkept, "journal-unwritten", "a dropped result cannot be named in the journal", failed)
		if pause > 0 {
			if !sleep(ctx, pause) {
				return false
			}
			continue // naming a row twice is harmless
		}
		b.o.link.dropped(len(part))
		rows = rows[len(part):]
	}
	return true
}

// ask asks for the rows, and says once when that is not possible.
func (b *readBack) ask(ctx context.Context, rows []Row) (missing []Row, ok bool) {
	if len(rows) == 0 {
		return nil, true
	}
	bounded, cancel := context.WithTimeout(ctx, readWithin)
	defer cancel()
	missing, err := b.sink.ReadBack(bounded, rows)
	log, sink := b.o.opt.Logger, b.o.opt.Sink.Name()
	switch {
	case err == nil && b.silent:
		b.silent = false
		log.Info("the sink can be asked again whether it has what it acknowledged", "code", "read-back-works", "sink", sink)
	case err != nil && ctx.Err() == nil && !b.silent && !b.o.link.isDown():
		b.silent = true
		log.Warn("the sink cannot be asked whether it has what it acknowledged, so results that it drops are not noticed; "+
			"check that the token may read, or set read_back_url", "code", "read-back-unavailable", "sink", sink, "error", err)
	}
	return missing, err == nil
}

func (b *readBack) tell(d Dropped) {
	if b.o.opt.OnDropped != nil {
		b.o.opt.OnDropped(d)
	}
}
