package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"runtime/debug"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate"
)

// runCommand is the daemon.
type runCommand struct {
	Config string     `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Level  slog.Level `name:"log-level" default:"INFO" help:"debug, info, warn or error."`
	Format string     `name:"log-format" default:"text" enum:"text,json" help:"text or json. Under systemd text lines carry their priority, and no time of their own."`
	Play   string     `placeholder:"CAPTURE" help:"Put a recording of listen --record through the bridge in place of its port, and end with it. Its results go to the journal and the sinks with their recorded times under a run of their own, all as late ones: never to live topics, states or alarms. To try a configuration without publishing, take one without publish and with another journal."`
	Port   string     `placeholder:"NAME" help:"With --play: the port of the configuration that was recorded; not needed where there is one."`
	Fast   bool       `help:"With --play: as fast as possible, with the recorded intervals all the same; otherwise at its own pace."`
}

// Run starts the bridge and works until the first SIGINT or SIGTERM. What is waiting is then delivered within run.drain;
// what is left stays in the journal.
func (c *runCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, false)
	if err != nil {
		return err
	}
	var play *bridge.Playback
	if c.Play != "" {
		if play, err = bridge.OpenPlayback(cfg, c.Play, c.Port, c.Fast); err != nil {
			return notStarted(err)
		}
	} else if c.Port != "" || c.Fast {
		return notStarted(errors.New("--port and --fast belong to --play"))
	}
	log := operate.NewLogger(s.err, c.Format, c.Level)
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(bridge.GarbagePercent)
	}
	reloads := newReloader(c.Config, log)
	defer reloads.end()
	started := time.Now()
	b, err := bridge.Open(ctx, bridge.Options{Config: cfg, Log: log, Play: play})
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
	page := operate.OpenPage(cfg.Operate.Listen, b, log)
	service.Start()
	deaf := func() {}
	if play == nil { // a recording is played under the configuration and by the hand it began with
		reloads.start(b, service)
		deaf = serveRequests(cfg, b, log)
	}
	err = b.Run(ctx)
	deaf()
	reloads.end()
	service.Stop()
	page.Close()
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
	if play != nil {
		return playSummary(s.out, play, b, time.Since(started))
	}
	return nil
}
