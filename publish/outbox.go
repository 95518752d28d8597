package publish

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// Options say how an Outbox works. Rows, Sink, Run and SinceStart must be set.
type Options struct {
	Rows Rows
	Sink Sink
	// Run is this start of the bridge: a row of another run is late.
	Run string
	// SinceStart is the clock of Reading.SinceStart.
	SinceStart func() time.Duration
	// Now is the wall clock, for Stats alone; default time.Now.
	Now func() time.Time

	// LiveWithin is how old a row may be and still count as live; default 5 s.
	LiveWithin time.Duration
	// OneLane delivers every row in the order of the journal: for a sink that keeps results by their time and to whom
	// none is ever late.
	OneLane bool
	// Batch bounds how many rows one delivery takes and how many rows a lane holds in memory; default 500.
	Batch int
	// BacklogPerSecond bounds how fast late rows are delivered, in 1/s; default 200, with OneLane no bound.
	BacklogPerSecond float64

	// Gather is how long the rows that come after a delivery may wait for others to go with them, with OneLane; a whole batch
	// goes at once. For a far end where a request costs far more than a row; 0: none waits.
	Gather time.Duration

	// DeliverWithin bounds one delivery; default 1 min.
	DeliverWithin time.Duration
	// DrainWithin bounds how long Run goes on after ctx is done; default 5 s.
	DrainWithin time.Duration
	// BackoffMin and BackoffMax bound the pause after a failed delivery, which doubles each time and is shortened by
	// up to a half at random; defaults 500 ms and 30 s.
	BackoffMin, BackoffMax time.Duration
	// HoldFor is the pause after a refusal that a person must see to; default 1 min.
	HoldFor time.Duration
	// Losses is how many times the link may be lost on the same single row before that row is put aside; default 5.
	Losses int

	// ReadBack is how often a few of the rows that were acknowledged are asked back of a Sink that is a ReadBacker, to find
	// rows it has acknowledged and dropped; 0: never. It needs OneLane.
	ReadBack time.Duration
	// SettleWithin is how long a store may take from the acknowledgement until it can be asked; default 10 s.
	SettleWithin time.Duration
	// OnDropped, where not nil, is told what is found dropped. It is called from one goroutine, and not for long.
	OnDropped func(Dropped)

	Logger *slog.Logger // default: none
}

// The cursor is made durable after this many rows or this long, whichever is first, but for a pause between: each time is a
// flush of the disk that results may wait for. What is lost of it when the program is killed is delivered again, which is
// harmless.
const (
	saveRows  = 100
	saveEvery = time.Second
	savePause = 250 * time.Millisecond
	saveLimit = 5 * time.Second // for the last time, at the end
)

func (o *Options) fill() error {
	switch {
	case o.Rows == nil || o.Sink == nil:
		return errors.New("outbox: no rows or no sink given")
	case o.Run == "":
		return errors.New("outbox: no run given")
	case o.SinceStart == nil:
		return errors.New("outbox: no clock given")
	case !(o.BacklogPerSecond >= 0) || !finite(o.BacklogPerSecond):
		return fmt.Errorf("outbox: backlog of %v rows per second; allowed: 0 (the default) and up", o.BacklogPerSecond)
	}
	if o.BacklogPerSecond == 0 && !o.OneLane {
		o.BacklogPerSecond = 200
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	positive(&o.LiveWithin, 5*time.Second)
	positive(&o.DeliverWithin, time.Minute)
	positive(&o.DrainWithin, 5*time.Second)
	positive(&o.BackoffMin, 500*time.Millisecond)
	positive(&o.BackoffMax, 30*time.Second)
	o.BackoffMax = max(o.BackoffMin, o.BackoffMax)
	positive(&o.HoldFor, time.Minute)
	positive(&o.SettleWithin, 10*time.Second)
	positive(&o.Batch, 500)
	positive(&o.Losses, 5)
	return nil
}

func positive[T ~int | ~int64](v *T, otherwise T) {
	if *v <= 0 {
		*v = otherwise
	}
}

// Outbox brings the rows of the journal to one sink: every row at least once, in the order of the journal within a
// lane, and no row that is late as a live one.
type Outbox struct {
	opt  Options
	at   *progress
	link *link

	promises [2]promise // of the live and the late lane
	back     *readBack  // nil where nothing is read back
}

// NewOutbox makes an outbox. Nothing is read or delivered before Run.
func NewOutbox(opt Options) (*Outbox, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	o := &Outbox{opt: opt, at: newProgress()}
	o.link = newLink(&o.opt, o.lag)
	if sink, ok := opt.Sink.(ReadBacker); ok && opt.ReadBack > 0 && opt.OneLane {
		o.back = newReadBack(o, sink)
	}
	return o, nil
}

// Run delivers until ctx is done, then delivers what is live and waiting within DrainWithin, keeps the cursor and
// returns nil. A journal that cannot be read is tried again; it returns early only where the journal is closed. Call it
// once.
//
// End the readings before ctx, and close the journal after Run, so that the last readings are still delivered live.
func (o *Outbox) Run(ctx context.Context) error {
	first := &lane{o: o, promise: &o.promises[0]}
	for pause := first.read(o.load(ctx)); pause > 0; pause = first.read(o.load(ctx)) {
		if !first.sleep(ctx, pause) {
			return nil
		}
	}
	if o.back != nil {
		o.back.begin()
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	// Deliveries under way are not cut off at the stop: work ends DrainWithin later.
	work, cut := context.WithCancel(context.WithoutCancel(ctx))
	defer cut()

	var lanes, others sync.WaitGroup
	var liveErr, lateErr error
	ended := make(chan struct{})
	lanes.Go(func() { defer stop(); liveErr = o.runLive(ctx, work) })
	if !o.opt.OneLane {
		lanes.Go(func() { defer stop(); lateErr = o.runLate(ctx, work) })
	}
	others.Go(func() { o.save(ended) })
	if o.back != nil {
		others.Go(func() { o.back.run(ctx) })
	}
	others.Go(func() {
		<-ctx.Done()
		limit := time.NewTimer(o.opt.DrainWithin)
		defer limit.Stop()
		select {
		case <-limit.C:
			cut()
		case <-ended:
		}
	})
	lanes.Wait()
	close(ended)
	others.Wait()

	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), saveLimit)
	defer cancel()
	saveErr := o.saveNow(last)
	if saveErr != nil {
		saveErr = fmt.Errorf("outbox %s: keep the cursor: %w", o.opt.Sink.Name(), saveErr)
	}
	return errors.Join(liveErr, lateErr, saveErr)
}

// Stats is how an outbox stands.
type Stats struct {
	Sink        string
	Live, Late  int64 // rows the far end has acknowledged since the start
	Quarantined int64 // rows put aside since the start
	Outages     int64 // times the far end stopped taking rows since the start
	Suspects    int64 // times the link was lost with rows on it that may be to blame
	Cursor      Cursor
	Lag         int64 // rows of the journal still to be delivered, at most: numbers the journal does not use count

	Link      LinkState
	Since     time.Time // of the link state; zero while it is LinkUnknown
	LastError string    // of the last failed delivery, also after it has been made good
}

// Stats tells how the outbox stands. It is safe for concurrent use.
func (o *Outbox) Stats() Stats {
	s := Stats{Sink: o.opt.Sink.Name(), Cursor: o.at.cursor(), Lag: o.lag()}
	o.link.fill(&s)
	return s
}

// lag counts the rows still to be delivered.
func (o *Outbox) lag() int64 {
	c := o.at.cursor()
	n := max(0, o.opt.Rows.Last()-c.Live)
	for _, r := range c.Late {
		n += r.Until - r.From
	}
	return n
}

// late tells whether the row must not be shown as a live value. Age is taken from the monotonic clock, so that a step
// of the wall clock makes nothing live or late.
func (o *Outbox) late(r *Row) bool { return o.lateAt(r, o.opt.SinceStart()) }

// lateAt is late at a moment of that clock: reading it costs more than the comparison.
func (o *Outbox) lateAt(r *Row, now time.Duration) bool {
	return r.Run != o.opt.Run || now-r.SinceStart > o.opt.LiveWithin
}

// sleep tells whether d went by before ctx was done.
func sleep(ctx context.Context, d time.Duration) bool {
	if d <= 0 {
		return ctx.Err() == nil
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
