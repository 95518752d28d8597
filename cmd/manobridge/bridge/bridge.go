// Package bridge joins ports, converters, journal and sinks into one running bridge.
//
// One goroutine reads each port, one loop converts and hands to the journal, one outbox feeds each sink from the
// journal; nothing is delivered that is not on disk first. A port, broker or store that is missing is waited for. The
// package computes nothing itself, and refuses to start where the journal cannot be kept.
package bridge

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/window"
	"manobridge/ingest"
	"manobridge/publish/journal"
	"manobridge/publish/mqtt"
)

// GarbagePercent is what the program sets the runtime's collector to (GOGC) where nobody set it: a small board has less memory
// to spare than processor time.
const GarbagePercent = 75

// Options are what a bridge is given beside its configuration.
type Options struct {
	Config *configs.Config
	Log    *slog.Logger
	// Run names this start of the bridge; empty means NewRun.
	Run string
	// OnResult sees every result as it is made, before it is durable. It must not block and must not keep the pointer.
	OnResult func(*convert.Result)
	// Play, where not nil, is what is read in place of the ports; Run then ends with it.
	Play *Playback
	// Clock is for tests: SinceStart counts from Open. The zero value means the clock of the system.
	Clock ingest.Clock
	// Synchronised is for tests: whether the wall clock is; nil means to ask the kernel.
	Synchronised func() (yes, known bool)
}

// Bridge is one bridge, from Open to Close. Run it once.
type Bridge struct {
	o       Options
	run     string
	started time.Time
	clock   ingest.Clock

	instruments map[string]*instrument    // of the loop once it runs
	stations    map[string]*window.Latest // what each said last; of the loop
	mqtt        *mqtt.Sink                // of the loop once it runs; nil where no broker is configured
	journal     *journal.Journal

	file      *configs.Config // as it is in the file, without the zeros that were taken; under mu
	hand      *hand
	condition condition
	ailing    ailing

	mu    sync.Mutex // of what a reload replaces and others look at, o.Config too
	lines []*line
	boxes []*box
	live  live

	gaps   *gaps
	watch  *clockWatch
	pulse  pulse
	counts counts
}

// instrument is what the loop needs of one instrument.
type instrument struct {
	converter *convert.Converter
	set       assemble.Set
	channels  channels
	signals   signals
	average   *window.Averager // nil where every reading is a result
	gone      bool             // taken out of the configuration; what of it is on its way is still converted
}

func newInstrument(c *configs.Config, in *configs.Instrument) (*instrument, error) {
	conv, err := assemble.Converter(c, in)
	if err != nil {
		return nil, err
	}
	set, err := assemble.CoefficientSet(c, in)
	if err != nil {
		return nil, err
	}
	x := &instrument{converter: conv, set: set, channels: newChannels(c, in)}
	if x.signals, err = newSignals(in); err != nil {
		return nil, err
	}
	x.average, err = averaging(in, x)
	return x, err
}

// Open builds the bridge and opens its journal. Nothing else is opened before Run. On an error nothing is left open.
func Open(ctx context.Context, o Options) (*Bridge, error) {
	started := time.Now()
	clock := o.Clock
	if clock.Now == nil {
		clock = ingest.SystemClock(started)
	} else {
		started = clock.Now()
	}
	b := &Bridge{o: o, run: o.Run, started: started, clock: clock, instruments: map[string]*instrument{}}
	if b.run == "" {
		b.run = NewRun(started)
		if o.Play != nil {
			b.run = journal.PlayedRun(b.run)
		}
	}
	var err error
	b.hand, b.file = newHand(), o.Config
	b.ailing.notices = make(chan journal.Event, 64)
	if b.instruments, err = newInstruments(o.Config); err != nil {
		return nil, err
	}
	if b.lines, err = b.openLines(o.Config); err != nil {
		return nil, err
	}
	j, err := journal.Open(ctx, journal.Options{
		Path: o.Config.Journal.Path, Durability: journal.Durability(o.Config.Journal.Durability),
		Run: b.run, Bridge: o.Config.Bridge, Started: started, Logger: o.Log,
		Bounds: keeping(o.Config), Sinks: sinkNames(o.Config), Notice: b.ailing.notice,
	})
	if err != nil {
		return nil, err
	}
	b.journal = j
	if err = b.takeUpZeros(ctx); err == nil {
		err = b.prepare(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, j.Close())
	}
	return b, nil
}

// newInstruments builds what the loop needs of every instrument.
func newInstruments(c *configs.Config) (map[string]*instrument, error) {
	all := map[string]*instrument{}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		one, err := newInstrument(c, in)
		if err != nil {
			return nil, fmt.Errorf("configuration: %w", err)
		}
		all[in.Name] = one
	}
	return all, nil
}

// takeUpZeros puts the zeros that were taken in the place of those of the file. The journal they are in is known to be sound
// by now, and one that was set aside has handed them on.
func (b *Bridge) takeUpZeros(ctx context.Context) error {
	with, held, err := b.withZeros(ctx, b.o.Config)
	if err != nil || len(held) == 0 {
		return err
	}
	b.o.Config = with
	b.instruments, err = newInstruments(with)
	return err
}

// prepare keeps the coefficient sets, notes what was missed since the last run, and builds the sinks.
func (b *Bridge) prepare(ctx context.Context) error {
	for name, in := range b.instruments {
		if err := b.journal.AddCoefficientSet(ctx, journal.CoefficientSet{Hash: in.set.Hash, Instrument: name, Text: in.set.Text}); err != nil {
			return fmt.Errorf("keep the coefficients of %s: %w", name, err)
		}
	}
	if err := b.noted(b.journal.RecordEvent(ctx, b.began())); err != nil {
		return fmt.Errorf("record the start: %w", err)
	}
	if err := b.takeUpService(ctx); err != nil {
		return err
	}
	b.watch = newClockWatch(b.clock, b.o.Log, b.clockEvent)
	if b.o.Synchronised != nil {
		b.watch.synced = b.o.Synchronised
	}
	if b.o.Play == nil {
		b.watch.begin()
	}
	if err := b.openGaps(ctx); err != nil {
		return err
	}
	boxes, err := b.openBoxes(b.o.Config, b.instruments)
	b.boxes = boxes
	for _, x := range boxes {
		if x.mqtt != nil {
			b.mqtt = x.mqtt
		}
	}
	if err != nil {
		return err
	}
	return b.openCondition(ctx, b.o.Config)
}

// RunID names this start of the bridge.
func (b *Bridge) RunID() string { return b.run }

// Journal is the open journal, for statistics. It is closed by Close.
func (b *Bridge) Journal() *journal.Journal { return b.journal }

// Config is the configuration in use.
func (b *Bridge) Config() *configs.Config {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.o.Config
}

// Sources are the ports, for statistics.
func (b *Bridge) Sources() []*ingest.Source {
	b.mu.Lock()
	defer b.mu.Unlock()
	list := make([]*ingest.Source, len(b.lines))
	for i, l := range b.lines {
		list[i] = l.source
	}
	return list
}

// Run works until given ends, then stops in order: the ports first, then what was read is made durable, then the sinks
// have until the drain deadline. It returns what failed, nil for a planned stop. What cannot go on (a journal that takes
// nothing, or cannot be followed) stops the rest in the same order: a supervisor then starts anew.
func (b *Bridge) Run(given context.Context) error {
	ctx, stop := context.WithCancel(given)
	defer stop()
	sinks, stopSinks := context.WithCancel(context.Background())
	defer stopSinks()
	items := b.begin(ctx, stop, sinks)

	var reading, watching sync.WaitGroup
	if b.o.Play == nil { // a recording has no clock to watch
		watching.Go(func() { b.watch.run(ctx) })
	}
	reading.Go(func() {
		<-ctx.Done()
		b.noMoreReloads()
		b.live.ports.Wait()
		close(items)
	})
	pumpErr := b.pump(items)
	close(b.live.looped)
	stop()
	for range items {
		// Only where the loop failed: the ports must be able to end. What they still hand over is lost with it.
	}
	reading.Wait()
	watching.Wait()
	gapsErr := errors.Join(b.gaps.stop(context.Background(), b.ended()), b.closeCondition(context.Background()))
	if b.o.Play != nil {
		b.settle(given)
	}
	stopSinks()
	b.live.deliveries.Wait()
	errs := []error{pumpErr, gapsErr}
	for _, l := range b.lines {
		errs = append(errs, l.err)
	}
	for _, x := range b.boxes {
		errs = append(errs, x.err)
	}
	return errors.Join(errs...)
}

// Close closes the sinks and the journal. Call it after Run has returned.
func (b *Bridge) Close() error {
	var errs []error
	for _, x := range b.boxes {
		errs = append(errs, x.close())
	}
	return errors.Join(append(errs, b.journal.Close())...)
}
