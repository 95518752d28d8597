package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/demo"
	"manobridge/configs"
)

// demoCommand runs the whole bridge on simulated instruments.
type demoCommand struct {
	For     time.Duration `placeholder:"10s" help:"End by itself after this long, with a summary. Left out: until interrupted."`
	Seed    uint64        `default:"1" help:"Which bench is drawn: every declared input of every instrument follows from it."`
	Corrupt float64       `default:"0.02" help:"Share of the frames that something happens to on the line, 0 to 1."`
	Verbose bool          `short:"v" help:"Show the bridge's log as well."`
}

// Run starts simulated instruments, the bridge and a broker, shows the readings, and adds up at the end.
func (c *demoCommand) Run(ctx context.Context, s streams) (err error) {
	log := slog.New(slog.DiscardHandler)
	if c.Verbose {
		log = slog.New(slog.NewTextHandler(s.err, nil))
	}
	bench, err := demo.Start(context.WithoutCancel(ctx), demo.Options{Seed: c.Seed, CorruptRate: c.Corrupt, Log: log})
	if err != nil {
		return notStarted(fmt.Errorf("start the demonstration: %w", err))
	}
	defer func() { err = errors.Join(err, bench.Close()) }()
	host, err := os.Hostname()
	if err != nil {
		host = "demo"
	}
	cfg, err := configs.Load(bench.ConfigPath(), configOptions(host, false))
	if err != nil {
		return notStarted(err)
	}
	show := newDemoView(cfg, bench, s)
	b, err := bridge.Open(ctx, bridge.Options{Config: cfg, Log: log, OnResult: show.result})
	if err != nil {
		return notStarted(err)
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	show.start(b)
	defer serveRequests(cfg, b, log)()

	running, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(running) }()
	failed := show.until(ctx, c.For, bench.Done(), ended)
	// Whatever ended the show, the instruments stop first, so that every frame written is read.
	patience, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	quiet := bench.Quiesce(patience)
	cancel()
	stop()
	if failed == nil {
		failed = <-ended
	}
	if failed != nil {
		return errors.Join(failed, quiet)
	}
	return errors.Join(quiet, show.summary(b))
}
