package bridge

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"sync/atomic"
	"time"

	"manobridge/convert"
	"manobridge/ingest"
	"manobridge/publish/journal"
)

// Codes of what is recorded about the clock, in the log and in the journal.
const (
	clockStepped        = "clock-step"
	clockUnsynchronised = "clock-unsynchronised"
	clockSynchronised   = "clock-synchronised"
	machineSlept        = "machine-slept"
)

const (
	// stepThreshold is how far the wall clock may leave the monotonic one before it counts as set. NTP corrects up to
	// 128 ms by a change of rate and steps beyond it (common practice of its daemons). A change of rate moves both clocks.
	stepThreshold = 128 * time.Millisecond

	lookEvery = time.Second // at both clocks

	// How often the kernel is asked whether its clock is synchronised. A host that comes up without network is told of
	// sooner when its clock becomes right.
	askEvery      = time.Hour
	askEveryUntil = time.Minute // while it is not
)

// clockWatch holds the wall clock against the monotonic one, and says once what changed. Nothing is put right by it: order,
// intervals, silence and age go by the monotonic clock, and times of day stay as they were read.
type clockWatch struct {
	clock  ingest.Clock
	synced func() (yes, known bool) // what the kernel says of its clock
	log    *slog.Logger
	record func(journal.Event) // Run is left to it

	wall  time.Time     // at the time since, by the last word on the clock
	since time.Duration // since the start of the run
	askAt time.Duration
	slept time.Duration // as far as it was told
	lost  bool          // the kernel said that it is not synchronised

	// uncertain is the moment, since the start of the run, up to which times of day are those of a clock that had not been
	// synchronised yet; always while it has not been, 0 where it was from the start or where nothing is known.
	uncertain atomic.Int64
}

const always = math.MaxInt64

// newClockWatch starts from what the clock shows now.
func newClockWatch(c ingest.Clock, log *slog.Logger, record func(journal.Event)) *clockWatch {
	w := &clockWatch{clock: c, synced: kernelSynchronised, log: log, record: record}
	w.since = c.SinceStart()
	w.wall = c.Now().Round(0)
	return w
}

// begin asks before the first reading whether the clock is to be trusted.
func (w *clockWatch) begin() {
	if yes, known := w.synced(); known && !yes {
		w.uncertain.Store(always)
	}
}

// mark marks a result that was received before the clock was synchronised for the first time. The pressure is what it
// was; only when it was is not sure.
func (w *clockWatch) mark(r *convert.Result) {
	if int64(r.SinceStart) < w.uncertain.Load() {
		r.Mark(&convert.Refusal{Code: convert.ClockUncertain, Field: "time of day", Seen: "is of a clock that had not been synchronised yet"})
	}
}

// run looks once a second until ctx ends, and once more then.
func (w *clockWatch) run(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		w.look()
		select {
		case <-ctx.Done():
			w.look()
			return
		case <-tick.C:
		}
	}
}

// look is one look at the clocks.
func (w *clockWatch) look() {
	wall, since, ok := w.read()
	if !ok {
		return
	}
	w.sleep(wall, since)
	w.step(wall, since)
	if since >= w.askAt || w.uncertain.Load() == always {
		w.ask(wall, since)
	}
}

// read gives both clocks of one moment. Where the goroutine was held up between them, which on a busy machine would look
// like a step, it reads again; if that goes on, the next look will do.
func (w *clockWatch) read() (wall time.Time, since time.Duration, ok bool) {
	for range 5 {
		before := w.clock.SinceStart()
		// Without the monotonic reading, which would hide a step from Sub.
		wall = w.clock.Now().Round(0)
		since = w.clock.SinceStart()
		if since-before <= stepThreshold/8 {
			return wall, since, true
		}
	}
	return wall, since, false
}

// step tells of a step. It compares with the last word on the clock, not with the last look, so that many small steps are
// told when together they are a large one.
func (w *clockWatch) step(wall time.Time, since time.Duration) {
	expected := w.wall.Add(since - w.since)
	size := wall.Sub(expected)
	if size.Abs() <= stepThreshold {
		return
	}
	w.wall, w.since = wall, since
	way := "forward"
	if size < 0 {
		way = "back"
	}
	was, is := expected.UTC().Format(time.RFC3339Nano), wall.UTC().Format(time.RFC3339Nano)
	w.log.Warn("the wall clock was set, or the machine slept; order, intervals and delays are not touched, but times of day before and after cannot be compared; check the time service",
		"code", clockStepped, "old", was, "new", is, "size_s", size.Seconds())
	w.record(journal.Event{Time: wall, SinceStart: since, Code: clockStepped,
		Note: fmt.Sprintf("set %s by %.3f s, from %s to %s", way, size.Abs().Seconds(), was, is)})
}

// sleep tells of a sleep of the machine. Nothing could be read in it.
func (w *clockWatch) sleep(wall time.Time, since time.Duration) {
	if w.clock.Slept == nil {
		return
	}
	slept := w.clock.Slept()
	d := slept - w.slept
	if d <= lookEvery { // no machine falls asleep and wakes up in that
		return
	}
	w.slept = slept
	w.log.Warn("the machine slept; what instruments sent meanwhile is lost, and counts as silence; keep the machine from sleeping",
		"code", machineSlept, "slept_s", d.Seconds())
	w.record(journal.Event{Time: wall, SinceStart: since, Code: machineSlept, Note: fmt.Sprintf("slept for %.3f s", d.Seconds())})
}

// ask asks the kernel whether the clock is synchronised, and tells a change; that it is from the start is not told.
func (w *clockWatch) ask(wall time.Time, since time.Duration) {
	yes, known := w.synced()
	w.askAt = since + askEvery
	if !known {
		return
	}
	if !yes {
		w.askAt = since + askEveryUntil
	}
	if yes {
		w.uncertain.CompareAndSwap(always, int64(since))
	}
	if yes == !w.lost {
		return
	}
	w.lost = !yes
	e := journal.Event{Time: wall, SinceStart: since, Code: clockSynchronised, Note: "the kernel says that its clock is synchronised"}
	if w.lost {
		e.Code, e.Note = clockUnsynchronised, "the kernel says that its clock is not synchronised"
		w.log.Warn("the clock of this machine is not synchronised, so times of day may be wrong; readings are taken all the same; check the time service",
			"code", e.Code)
	} else {
		w.log.Info("the clock of this machine is synchronised", "code", e.Code)
	}
	w.record(e)
}
