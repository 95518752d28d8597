package bridge

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/recording"
	"manobridge/publish/journal"
)

// Playback is a recording that goes through the bridge in place of a port.
//
// What it gives is not news. It is kept and delivered with its recorded times under a run of its own, all of it late: no
// live topic and no state of an instrument is touched by it.
type Playback struct {
	// Path of the recording.
	Path string
	// Port of the configuration that the recording takes the place of. The others are not opened.
	Port string
	// Fast plays without waiting; otherwise each read waits for its time.
	Fast bool

	// Holds is what OpenPlayback found.
	Holds recording.Summary
}

// OpenPlayback reads the whole recording and refuses one that cannot be played. An empty port means the only one.
func OpenPlayback(c *configs.Config, path, port string, fast bool) (*Playback, error) {
	i := slices.IndexFunc(c.Ports, func(p configs.Port) bool { return p.Name == port })
	switch {
	case port == "" && len(c.Ports) == 1:
		i = 0
	case port == "":
		return nil, fmt.Errorf("the configuration has %d ports; name with --port the one that was recorded", len(c.Ports))
	case i < 0:
		return nil, fmt.Errorf("the configuration has no port %q", port)
	}
	p := &c.Ports[i]
	if p.Ask != nil {
		return nil, fmt.Errorf("instruments at port %s are asked, and a recording does not hold the questions; only ports with frame can be played", p.Name)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	holds, err := recording.Check(f)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("recording %s: %w", path, err)
	}
	return &Playback{Path: path, Port: p.Name, Fast: fast, Holds: holds}, nil
}

// note says in the journal what a run played.
func (p *Playback) note() string {
	return fmt.Sprintf("played recording %s in place of port %s, from %s to %s", p.Path, p.Port,
		p.Holds.First.Format(time.RFC3339Nano), p.Holds.Last.Format(time.RFC3339Nano))
}

// reads tells whether the bridge reads the port.
func (b *Bridge) reads(p *configs.Port) bool { return b.o.Play == nil || b.o.Play.Port == p.Name }

// read runs a source until ctx ends, or until its recording does, which ends the bridge.
func (b *Bridge) read(ctx context.Context, stop func(), s *ingest.Source, items chan<- ingest.Item) (err error) {
	p := b.o.Play
	if p == nil {
		return s.Run(ctx, items)
	}
	defer stop()
	f, err := os.Open(p.Path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	began := time.Now()
	wait := func(since time.Duration) bool { return pause(ctx, since-time.Since(began)) }
	if p.Fast {
		wait = nil
	}
	if err := s.Play(ctx, recording.Reads(f), wait, items); err != nil {
		return fmt.Errorf("recording %s: %w", p.Path, err)
	}
	return nil
}

// pause tells whether d went by before ctx ended.
func pause(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(max(d, 0))
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// ended is the time at which a gap ends that is open at the end.
func (b *Bridge) ended() time.Time {
	if b.o.Play != nil {
		return b.o.Play.Holds.Last
	}
	return b.clock.Now()
}

// settle waits until what was played is delivered, since a recording ends and nothing comes behind it. It gives up when ctx
// ends, or when nothing has been delivered for as long as a stop may take; what is left stays in the journal.
func (b *Bridge) settle(ctx context.Context) {
	const every = 20 * time.Millisecond
	var last int64
	moved := time.Now()
	for {
		var done, waiting int64
		for _, d := range b.Deliveries() {
			done, waiting = done+d.Delivered+d.Quarantined, waiting+d.Waiting
		}
		if done != last {
			last, moved = done, time.Now()
		}
		if waiting == 0 || time.Since(moved) > time.Duration(b.o.Config.Run.Drain) || !pause(ctx, every) {
			return
		}
	}
}

// openGaps makes the record of what is not heard. That no bridge ran since the last run is the word of a run that listens.
func (b *Bridge) openGaps(ctx context.Context) error {
	if p := b.o.Play; p != nil {
		b.gaps = newGaps(b.journal, b.run, p.Holds.First)
		return b.noted(b.journal.RecordEvent(ctx, journal.Event{Run: b.run, Time: b.started, SinceStart: b.clock.SinceStart(),
			Code: "recording-played", Note: p.note()}))
	}
	b.gaps = newGaps(b.journal, b.run, b.started)
	return b.gaps.sinceLastRun(ctx, b.journal.Previous(), func(name string) bool {
		c := b.o.Config
		return slices.ContainsFunc(c.Instruments, func(in configs.Instrument) bool { return in.Name == name }) ||
			slices.ContainsFunc(c.Stations, func(s configs.Station) bool { return s.Name == name })
	})
}
