package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate"
)

// runCommand is the daemon.
type runCommand struct {
	Config string     `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Level  slog.Level `name:"log-level" default:"INFO" help:"debug, info, warn or error."`
}

// Run starts the bridge and works until the first SIGINT or SIGTERM. What is waiting is then delivered within run.drain;
// what is left stays in the journal.
func (c *runCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, false)
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: c.Level}))
	b, err := bridge.Open(ctx, bridge.Options{Config: cfg, Log: log})
	if err != nil && errors.Is(err, context.Canceled) && ctx.Err() != nil {
		log.Info("asked to stop before the bridge had started", "code", "bridge-stopped")
		return nil
	}
	if err != nil {
		return notStarted(err)
	}
	log.Info("bridge started", "code", "bridge-started", "bridge", cfg.Bridge, "site", cfg.Site, "run", b.RunID(),
		"instruments", len(cfg.Instruments), "ports", len(b.Sources()), "journal", cfg.Journal.Path)
	service := operate.NewService(b, log)
	service.Start()
	err = b.Run(ctx)
	service.Stop()
	if err = errors.Join(err, b.Close()); err != nil {
		return fmt.Errorf("the bridge failed: %w", err)
	}
	n := b.Counts()
	for _, d := range b.Deliveries() {
		if d.Waiting > 0 {
			log.Warn("results were not delivered before the stop; they stay in the journal and are delivered by the next run", "code", "bridge-stopped", "sink", d.Sink, "waiting", d.Waiting)
		}
	}
	log.Info("bridge stopped", "code", "bridge-stopped", "run", b.RunID(), "readings", n.Readings, "good", n.Good, "uncertain", n.Uncertain, "bad", n.Bad)
	return nil
}
