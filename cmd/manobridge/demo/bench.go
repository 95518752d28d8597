package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"manobridge/cmd/manobridge/demo/simulate"
)

// Options says what is to be played. The zero value plays the example hall until Stop.
type Options struct {
	Seed        uint64
	For         time.Duration // of the story; 0: until Quiesce
	CorruptRate float64       // share of the frames that something happens to, 0 to 1
	// Hall is what is declared; nil: simulate.TestHall.
	Hall *simulate.Declared
	// Series is a time-series store to write to, where one is at hand.
	Series simulate.SeriesPlace
	// AtOnce plays the story as fast as it is read, in place of by the clock.
	AtOnce bool
	// Log hears what the embedded broker has to say; nil: nobody.
	Log *slog.Logger
}

// Bench is a running demonstration. The writers wait until the bridge has opened every port. Its methods may be called
// from any goroutine; whoever started it calls Close, after the bridge has ended.
type Bench struct {
	hall   *simulate.Hall
	ledger *simulate.Ledger
	dir    string
	config string
	lines  []*serialLine
	broker *broker

	cancel context.CancelFunc // ends the writers at once
	stop   context.CancelFunc // ends them after the frame in hand
	done   chan struct{}      // closed when they have ended
	err    error              // why, once done is closed

	closing  sync.Once
	closeErr error
}

// Start makes the working directory, the lines and the broker, and starts the writers. When ctx ends they end at once;
// for an end without loss call Quiesce, then end the bridge, then Close.
func Start(ctx context.Context, o Options) (*Bench, error) {
	declared := simulate.TestHall()
	if o.Hall != nil {
		declared = *o.Hall
	}
	hall, err := simulate.Build(declared, o.Seed)
	if err != nil {
		return nil, err
	}
	if o.CorruptRate < 0 || o.CorruptRate > 1 {
		return nil, fmt.Errorf("share of frames to corrupt is %g, allowed: 0 to 1", o.CorruptRate)
	}
	log := o.Log
	if log == nil {
		log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	b := &Bench{hall: hall, ledger: simulate.NewLedger(), done: make(chan struct{})}
	if err := b.open(o, log); err != nil {
		return nil, errors.Join(err, b.release())
	}
	ctx, b.cancel = context.WithCancel(ctx)
	stop, end := context.WithCancel(ctx)
	b.stop = end
	go func() {
		defer close(b.done)
		b.err = b.play(ctx, stop, o)
	}()
	return b, nil
}

// open makes everything the bridge will need and writes its configuration.
func (b *Bench) open(o Options, log *slog.Logger) (err error) {
	if b.dir, err = os.MkdirTemp("", "manobridge-demo-"); err != nil {
		return err
	}
	if b.broker, err = openBroker(log); err != nil {
		return err
	}
	places := simulate.Places{
		Devices: map[string]string{}, Broker: b.broker.url, Series: o.Series, Journal: b.JournalPath(),
	}
	for _, port := range b.hall.Declared.Ports {
		line, err := openLine(port.Name)
		if err != nil {
			return err
		}
		b.lines = append(b.lines, line)
		places.Devices[port.Name] = line.path
	}
	b.config = b.hall.Config(places)
	return os.WriteFile(b.ConfigPath(), []byte(b.config), 0o600)
}

// play runs one writer to a line and waits for all. stop ends them between two frames, ctx at once.
func (b *Bench) play(ctx, stop context.Context, o Options) error {
	// Nothing is sent anywhere until somebody listens everywhere, so that all lines tell one story.
	opening, openingCtx := errgroup.WithContext(stop)
	for _, line := range b.lines {
		opening.Go(func() error { return line.awaitReader(openingCtx) })
	}
	if err := opening.Wait(); err != nil {
		if stop.Err() != nil && ctx.Err() == nil {
			return nil // asked to end before anybody listened
		}
		return err
	}

	wait := clock(time.Now())
	if o.AtOnce {
		wait = atOnce
	}
	sending, sendingCtx := errgroup.WithContext(ctx)
	for i, line := range b.lines {
		frames := b.hall.Line(b.hall.Declared.Ports[i].Name, o.CorruptRate)
		sending.Go(func() error {
			if err := line.send(sendingCtx, stop, frames, o.For, wait, b.ledger); err != nil {
				return err
			}
			return line.drained(sendingCtx)
		})
	}
	return sending.Wait()
}

// Config is the configuration the bridge is to be run with; it lies at ConfigPath as well.
func (b *Bench) Config() string { return b.config }

// ConfigPath is where the configuration lies.
func (b *Bench) ConfigPath() string { return filepath.Join(b.dir, "hall.yaml") }

// JournalPath is where the bridge keeps its journal.
func (b *Bench) JournalPath() string { return filepath.Join(b.dir, "manobridge.db") }

// Dir is the working directory.
func (b *Bench) Dir() string { return b.dir }

// BrokerURL is the address of the embedded broker.
func (b *Bench) BrokerURL() string { return b.broker.url }

// Hall is the truth.
func (b *Bench) Hall() *simulate.Hall { return b.hall }

// Ledger is the account of what was written and what came of it.
func (b *Bench) Ledger() *simulate.Ledger { return b.ledger }

// Done is closed when the last frame has been written and read, or writing has failed; Err says which.
func (b *Bench) Done() <-chan struct{} { return b.done }

// Err is why the writers ended before their time; nil when they ended as asked, or have not ended.
func (b *Bench) Err() error {
	select {
	case <-b.done:
		return b.err
	default:
		return nil
	}
}

// Quiesce lets the writers finish the frame in hand and waits until the bridge has read everything. When ctx ends
// first, it ends them at once and says what was left.
func (b *Bench) Quiesce(ctx context.Context) error {
	b.stop()
	select {
	case <-b.done:
	case <-ctx.Done():
		b.cancel()
		<-b.done
	}
	return b.err
}

// Close ends whatever still runs, takes lines and broker away, and removes the working directory with the journal in
// it. Calling it again does nothing and gives the same answer.
func (b *Bench) Close() error {
	b.closing.Do(func() {
		b.cancel()
		<-b.done
		b.closeErr = b.release()
	})
	return b.closeErr
}

// release undoes open, as far as it came.
func (b *Bench) release() error {
	var errs []error
	for _, line := range b.lines {
		errs = append(errs, line.close())
	}
	if b.broker != nil {
		errs = append(errs, b.broker.close())
	}
	if b.dir != "" {
		errs = append(errs, os.RemoveAll(b.dir))
	}
	return errors.Join(errs...)
}
