package bridge

import (
	"context"
	"errors"
	"fmt"
	"time"

	"manobridge/convert"
	"manobridge/publish/journal"
)

// CauseBridgeDown is the cause of the gap between the last reading of an earlier run and the first frame of this one: what a
// line has kept until it is opened is old, and dropped.
const CauseBridgeDown convert.Cause = "bridge-down"

// gaps records, per instrument, when nothing could be received: from its last good reading, or the start, until it is
// heard again.
type gaps struct {
	j        *journal.Journal
	run      string
	started  time.Time
	open     map[string]int64     // the number of the open gap
	down     map[string]int64     // that of the time since the last run, until an instrument is heard
	lastGood map[string]time.Time // of this run
	lastSeq  map[string]uint64
}

func newGaps(j *journal.Journal, run string, started time.Time) *gaps {
	return &gaps{j: j, run: run, started: started, open: map[string]int64{}, down: map[string]int64{},
		lastGood: map[string]time.Time{}, lastSeq: map[string]uint64{}}
}

// sinceLastRun records what was sent while no bridge was running, and ends the gaps an earlier run left open. For instruments
// that are listened to it lasts until they are heard.
func (g *gaps) sinceLastRun(ctx context.Context, previous []journal.Tail, listened func(instrument string) bool) error {
	old, err := g.j.OpenGaps(ctx)
	if err != nil {
		return fmt.Errorf("read the gaps of earlier runs: %w", err)
	}
	for _, gap := range old {
		if gap.Until.IsZero() && gap.Run != g.run {
			until := g.started
			if gap.From.After(until) { // the clock was set back
				until = gap.From
			}
			if err := g.j.CloseGap(ctx, gap.ID, until, gap.UntilSeq, gap.Count); err != nil && !errors.Is(err, journal.ErrHeld) {
				return fmt.Errorf("end a gap of an earlier run: %w", err)
			}
		}
	}
	latest := map[string]journal.Tail{}
	for _, t := range previous {
		if t.ReceivedAt.After(latest[t.Instrument].ReceivedAt) {
			latest[t.Instrument] = t
		}
	}
	for name, t := range latest {
		from, note := t.ReceivedAt, fmt.Sprintf("no bridge was running; the last reading before was seq %d of run %s", t.Seq, t.Run)
		if from.After(g.started) { // a gap that ends before it begins would be found by nobody who asks for a time
			from = g.started
			note += fmt.Sprintf(" at %s, which is after this start: the clock was set back; how long it was is not known",
				t.ReceivedAt.UTC().Format(time.RFC3339))
		}
		gap := journal.Gap{Instrument: name, Run: g.run, Cause: CauseBridgeDown, From: from, Until: g.started, Note: note}
		var err error
		if listened(name) {
			g.down[name], err = g.j.OpenGap(ctx, gap)
		} else {
			err = g.j.RecordGap(ctx, gap)
		}
		if err != nil && !errors.Is(err, journal.ErrHeld) {
			return fmt.Errorf("record what was missed since the last run: %w", err)
		}
	}
	return nil
}

// see opens a gap with the first word that an instrument is not heard, and closes it with the next frame of it.
func (g *gaps) see(ctx context.Context, r *convert.Result) error {
	silent := r.Refusal != nil && (r.Refusal.Code == convert.Silence || r.Refusal.Code == convert.PortGone)
	if err := g.heard(r, silent); err != nil {
		return err
	}
	id, isOpen := g.open[r.Instrument]
	defer func() {
		g.lastSeq[r.Instrument] = r.Seq
		if r.Refusal == nil {
			g.lastGood[r.Instrument] = r.ReceivedAt
		}
	}()
	switch {
	case silent && !isOpen:
		from, ok := g.lastGood[r.Instrument]
		if !ok {
			from = g.started
		}
		id, err := g.j.OpenGap(ctx, journal.Gap{Instrument: r.Instrument, Run: g.run, Cause: r.Refusal.Code, FromSeq: r.Seq, From: from, Note: r.Refusal.Error()})
		if err == nil || errors.Is(err, journal.ErrHeld) { // held: the number holds, and the journal writes it when it can
			g.open[r.Instrument] = id
		}
		return g.forgive(err)
	case !silent && isOpen:
		delete(g.open, r.Instrument)
		return g.forgive(g.j.CloseGap(ctx, id, r.ReceivedAt, g.lastSeq[r.Instrument], 0))
	}
	return nil
}

// heard ends the time since the last run with the first frame of an instrument. Where it is silent instead, a gap of that
// begins at the start. The end goes with the rows that follow, and is not waited for.
func (g *gaps) heard(r *convert.Result, silent bool) error {
	id, isOpen := g.down[r.Instrument]
	if !isOpen {
		return nil
	}
	delete(g.down, r.Instrument)
	until := r.ReceivedAt
	if silent || until.Before(g.started) {
		until = g.started
	}
	unwaited, cancel := context.WithCancel(context.Background())
	cancel()
	return g.forgive(g.j.CloseGap(unwaited, id, until, 0, 0))
}

// expect begins to watch an instrument that came with a new configuration.
func (g *gaps) expect(instrument string, now time.Time) { g.lastGood[instrument] = now }

// remove ends what is open for an instrument that is taken out: from here on nothing is expected of it.
func (g *gaps) remove(ctx context.Context, instrument string, now time.Time) error {
	var errs []error
	for _, of := range []map[string]int64{g.down, g.open} {
		if id, isOpen := of[instrument]; isOpen {
			delete(of, instrument)
			errs = append(errs, g.forgive(g.j.CloseGap(ctx, id, now, g.lastSeq[instrument], 0)))
		}
	}
	return errors.Join(errs...)
}

// stop ends what is open: from here on no bridge is running.
func (g *gaps) stop(ctx context.Context, now time.Time) error {
	var errs []error
	for _, of := range []map[string]int64{g.down, g.open} {
		for name, id := range of {
			errs = append(errs, g.forgive(g.j.CloseGap(ctx, id, now, g.lastSeq[name], 0)))
		}
	}
	return errors.Join(errs...)
}

// forgive lets the loop go on where the disk is full: the journal says so and counts what it cannot keep.
func (g *gaps) forgive(err error) error {
	if errors.Is(err, journal.ErrClosed) {
		return err
	}
	return nil
}
