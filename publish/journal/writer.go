package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"manobridge/convert"
)

// op is one thing handed over. done gets its outcome once; results and gaps stay with the writer after it, where they
// could not be written yet.
type op struct {
	done     chan error
	signaled bool // owned by the writer goroutine, under writer.mu where the queue is cut

	results []convert.Result
	gaps    []Gap
	do      func(w *writer) error // given back to its caller where it could not be written
	keep    func(w *writer) error // stays with the writer until it is; must be repeatable
}

// held tells whether the writer keeps o while nothing can be written.
func (o *op) held() bool { return o.do == nil }

// mayWait tells whether o may be left for a moment, so that more comes with it. Whoever hands over something else than
// results waits for it, and with it perhaps whoever makes the results.
func (o *op) mayWait() bool { return len(o.results) > 0 }

func (o *op) signal(err error) {
	if !o.signaled {
		o.signaled = true
		o.done <- err
	}
}

// writer is the one goroutine that writes, and the state it keeps between commits.
type writer struct {
	opt  *Options
	log  *slog.Logger
	conn *sql.Conn

	mu      sync.Mutex
	queue   []*op
	waiting int                   // results in queue
	keeping int                   // keeps in queue
	lost    map[streamName][]*Gap // given up and not recorded yet, in runs without a hole
	lostAll int64
	closed  bool
	full    error // what keeps the journal from being written; nil when it can
	fullAt  time.Time
	resting bool  // between two commits
	rows    int64 // committed since Open
	last    int64
	more    chan struct{} // closed and replaced when last grows
	damaged string        // what a check of the file found
	keep    Bounds
	sinks   []string // that are configured
	tail    map[string]tailAt
	passed  map[string]int64 // cursors as they are durable

	wake chan struct{}
	quit chan struct{} // closed by stop
	done chan struct{} // closed when run has returned
	err  error         // of run

	pace   pace // only for the goroutine that writes
	recent recent
	fresh  block // of the commit under way; only for the goroutine that writes

	open  map[int64]int64 // row of a gap by the number that OpenGap gave; only for the goroutine that writes
	state                 // only for the goroutine that writes
}

type streamName struct{ run, instrument string }

func newWriter(ctx context.Context, conn *sql.Conn, opt *Options) (*writer, error) {
	w := &writer{
		opt: opt, log: opt.Logger, conn: conn, lost: map[streamName][]*Gap{},
		open: map[int64]int64{}, keep: opt.Bounds, sinks: opt.Sinks, tail: map[string]tailAt{}, passed: map[string]int64{},
		more: make(chan struct{}), wake: make(chan struct{}, 1), quit: make(chan struct{}), done: make(chan struct{}),
	}
	if err := w.prepare(ctx, conn); err != nil {
		return nil, err
	}
	if err := w.load(ctx, conn); err != nil {
		return nil, err
	}
	w.last = w.lastID
	for _, t := range w.tails() {
		w.tail[t.Instrument] = tailAt{Run: t.Run, Seq: t.Seq, Row: t.ID, AtNS: t.ReceivedAt.UnixNano()}
	}
	w.markDurable(nil)
	return w, nil
}

// hand puts o in the queue.
func (w *writer) hand(o *op) error {
	w.mu.Lock()
	if w.closed {
		w.mu.Unlock()
		return ErrClosed
	}
	if full := w.full; full != nil && !o.held() { // what is held is tried again, and says when there is room
		w.mu.Unlock()
		return fmt.Errorf("the journal cannot be written: %w", full)
	}
	if o.keep != nil && w.full != nil && w.keeping >= w.opt.Held {
		w.mu.Unlock()
		return ErrNoRoom
	}
	w.queue = append(w.queue, o)
	w.waiting += len(o.results)
	if o.keep != nil {
		w.keeping++
	}
	if w.full != nil && o.held() {
		o.signal(ErrHeld) // nobody waits for a disk to get room
	}
	w.cut()
	later := w.resting && o.mayWait() && w.waiting < heap // looks by itself when it has rested
	w.mu.Unlock()
	if later {
		return nil
	}
	select {
	case w.wake <- struct{}{}:
	default:
	}
	return nil
}

// cut gives up the oldest results past the bound, and counts them. w.mu is held.
func (w *writer) cut() {
	for i := 0; w.waiting > w.opt.Held && i < len(w.queue); i++ {
		o := w.queue[i]
		n := min(len(o.results), w.waiting-w.opt.Held)
		for k := range o.results[:n] {
			w.lose(&o.results[k])
		}
		if n > 0 {
			o.signal(ErrHeld)
		}
		o.results = o.results[n:]
		w.waiting -= n
	}
}

// CauseJournalFull is the cause of the gap that results given up on a full disk leave.
const CauseJournalFull convert.Cause = "journal-full"

// lose counts a result that is given up. A group that was being committed comes back after newer ones were given up, so
// seqs need not come in order. w.mu is held.
func (w *writer) lose(r *convert.Result) {
	w.lostAll++
	key := streamName{r.Run, r.Instrument}
	for _, g := range w.lost[key] {
		switch r.Seq {
		case g.UntilSeq + 1:
			g.UntilSeq, g.Until = r.Seq, r.ReceivedAt
		case g.FromSeq - 1:
			g.FromSeq, g.From = r.Seq, r.ReceivedAt
		default:
			continue
		}
		g.Count++
		return
	}
	w.lost[key] = append(w.lost[key], &Gap{Instrument: r.Instrument, Run: r.Run, Cause: CauseJournalFull,
		FromSeq: r.Seq, UntilSeq: r.Seq, From: r.ReceivedAt, Until: r.ReceivedAt, Count: 1,
		Note: "the disk was full, and what could be held in memory was used up"})
}

// take gives the next group, or nil where nothing is waiting.
func (w *writer) take() (group []*op, closed bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	n, results := 0, 0
	for n < len(w.queue) && n < w.opt.Group && (n == 0 || results+len(w.queue[n].results) <= w.opt.Group) {
		results += len(w.queue[n].results)
		if w.queue[n].keep != nil {
			w.keeping--
		}
		n++
	}
	group = w.queue[:n:n]
	w.queue = w.queue[n:]
	w.waiting -= results
	return group, w.closed
}

// run commits groups until stop is called and everything is written, or nothing can be.
func (w *writer) run() {
	defer close(w.done)
	for {
		w.rest()
		group, closed := w.take()
		if len(group) == 0 {
			if closed {
				w.err = w.end()
				return
			}
			select {
			case <-w.wake:
			case <-w.quit:
			}
			continue
		}
		if err := w.commit(group); err != nil {
			w.hold(group, err)
			if closed {
				w.err = fmt.Errorf("close journal: %d results could not be written: %w", w.abandon(), err)
				return
			}
			select {
			case <-time.After(w.opt.Retry):
			case <-w.quit:
			}
		}
	}
}

// commit writes one group in one transaction. Where it fails nothing of the group is in the file.
func (w *writer) commit(group []*op) error {
	ctx := context.Background()
	w.mu.Lock()
	lost := w.lost
	w.lost = map[streamName][]*Gap{}
	w.mu.Unlock()

	outcome := make([]error, len(group))
	results := 0
	began := time.Now()
	w.fresh.rows = w.fresh.rows[:0]
	err := w.transact(ctx, func() error {
		for _, gaps := range lost {
			for _, g := range gaps {
				if _, err := w.insertGap(*g); err != nil {
					return err
				}
			}
		}
		for i, o := range group {
			for k := range o.results {
				if err := w.insert(ctx, &o.results[k]); err != nil {
					return err
				}
				w.fresh.add(&w.state)
			}
			results += len(o.results)
			for _, g := range o.gaps {
				if _, err := w.insertGap(g); err != nil {
					return err
				}
			}
			for _, f := range []func(*writer) error{o.do, o.keep} {
				if f == nil {
					continue
				}
				if outcome[i] = w.apart(ctx, f); diskFault(outcome[i]) {
					return outcome[i]
				}
			}
		}
		return nil
	})
	w.mu.Lock()
	if err != nil { // not recorded: they wait for the next commit
		for key, gaps := range lost {
			w.lost[key] = append(gaps, w.lost[key]...)
		}
		w.mu.Unlock()
		return err
	}
	recovered, since, givenUp := w.full, w.fullAt, w.lostAll
	w.full = nil
	w.rows += int64(results)
	w.markDurable(group)
	w.fresh.at = began
	w.recent.add(w.fresh)
	if w.lastID > w.last {
		w.last = w.lastID
		close(w.more)
		w.more = make(chan struct{})
	}
	w.mu.Unlock()
	for i, o := range group {
		o.signal(outcome[i])
	}
	w.pace.begin(began, results)
	if recovered != nil {
		w.note(EventRecovered, fmt.Sprintf("the journal can be written again after %.3f s; what was held is written; %d results were lost since the start, each in a gap",
			w.opt.Now().Sub(since).Seconds(), givenUp))
		w.log.Info("journal can be written again; what was held is written", "code", "journal-recovered",
			"after_s", w.opt.Now().Sub(since).Seconds(), "lost_since_start", givenUp)
	}
	return nil
}

// hold puts a group that could not be written back, and tells its callers. What only a caller can repeat is given
// back to it.
func (w *writer) hold(group []*op, err error) {
	err = explainWrite(err)
	w.mu.Lock()
	first := w.full == nil
	if first {
		w.fullAt = w.opt.Now()
	}
	w.full = err
	var back []*op
	for _, o := range group {
		if !o.held() {
			o.signal(err)
			continue
		}
		o.signal(ErrHeld)
		back = append(back, o)
		w.waiting += len(o.results)
		if o.keep != nil {
			w.keeping++
		}
	}
	for _, o := range w.queue {
		if !o.held() { // it would come behind what is held, and wait for as long as nothing can be written
			o.signal(err)
			continue
		}
		o.signal(ErrHeld)
		back = append(back, o)
	}
	w.queue = back
	w.cut()
	held := w.waiting
	w.mu.Unlock()
	if first {
		w.note(EventFull, "the journal cannot be written: "+err.Error()+"; readings are held in memory")
		w.log.Error("journal cannot be written: "+err.Error()+"; readings are held in memory and written when it can; "+
			"make room on the disk", "code", "journal-full", "held", held, "held_most", w.opt.Held)
	}
}

// The events of a journal that cannot be written, and can again.
const (
	EventFull      = "journal-full"
	EventRecovered = "journal-recovered"
)

// note hands over an event of the journal itself, to be written when there is room, and passes it on.
func (w *writer) note(code, text string) {
	now := w.opt.Now()
	e := Event{Run: w.opt.Run, Time: now, SinceStart: now.Sub(w.opt.Started), Code: code, Note: text}
	w.opt.Notice(e)
	// The writer goroutine itself hands it over, so nobody waits; a journal that is being closed takes it no more.
	_ = w.hand(&op{done: make(chan error, 1), keep: func(w *writer) error { return w.insertEvent(e) }})
}

func explainWrite(err error) error {
	if sqliteCode(err) == codeFull {
		return fmt.Errorf("the disk is full: %w", err)
	}
	return err
}

// diskFault tells whether err means that nothing can be written now, rather than that one statement was wrong.
func diskFault(err error) bool {
	switch sqliteCode(err) {
	case codeBusy, codeNoMemory, codeReadOnly, codeIO, codeCorrupt, codeFull, codeCannotOpen:
		return true
	}
	return false
}

const (
	codeBusy     = 5
	codeNoMemory = 7
	codeIO       = 10
)

// transact runs f in one transaction.
func (w *writer) transact(ctx context.Context, f func() error) error {
	if _, err := w.conn.ExecContext(ctx, "BEGIN IMMEDIATE"); err != nil {
		return err
	}
	err := f()
	if err == nil {
		_, err = w.conn.ExecContext(ctx, "COMMIT")
	}
	if err == nil {
		return nil
	}
	w.conn.ExecContext(ctx, "ROLLBACK") // a full disk may have rolled back already
	if again := w.load(ctx, w.conn); again != nil {
		return errors.Join(err, again)
	}
	return err
}

// apart runs f so that its failure undoes f alone.
func (w *writer) apart(ctx context.Context, f func(w *writer) error) error {
	if _, err := w.conn.ExecContext(ctx, "SAVEPOINT apart"); err != nil {
		return err
	}
	err := f(w)
	if err != nil {
		if diskFault(err) {
			return err
		}
		if _, undo := w.conn.ExecContext(ctx, "ROLLBACK TO apart"); undo != nil {
			return undo
		}
		if again := w.load(ctx, w.conn); again != nil { // f may have noted numbers that are gone now
			return again
		}
	}
	if _, release := w.conn.ExecContext(ctx, "RELEASE apart"); release != nil {
		return release
	}
	return err
}

// stop writes what is waiting and ends the run.
func (w *writer) stop() error {
	w.mu.Lock()
	w.closed = true
	w.mu.Unlock()
	close(w.quit)
	<-w.done
	return w.err
}

// abandon empties the queue and tells how many results were in it.
func (w *writer) abandon() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	n := w.waiting + int(w.lostAll)
	for _, o := range w.queue {
		o.signal(ErrClosed)
	}
	w.queue, w.waiting, w.keeping = nil, 0, 0
	return n
}
