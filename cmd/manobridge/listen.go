package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/listening"
	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/serialport"
)

// listenCommand shows what a digitizer sends.
type listenCommand struct {
	Device string        `placeholder:"PATH" help:"Serial port; with --config, in place of the one configured."`
	Baud   int           `default:"9600" help:"Line rate in bit/s, where no configuration states it."`
	Config string        `short:"c" placeholder:"FILE" help:"Configuration that describes the frames."`
	Port   string        `placeholder:"NAME" help:"Port of the configuration."`
	Record string        `placeholder:"FILE" help:"Write the raw bytes with their times to a new file."`
	For    time.Duration `help:"End after this time; otherwise at SIGINT."`
}

// Run listens.
func (c *listenCommand) Run(ctx context.Context, s streams) (ended error) {
	o := listening.Options{Device: c.Device, Baud: c.Baud, Out: s.out}
	settings := serialport.Settings{Device: c.Device, Baud: c.Baud, DataBits: 8, Parity: "none", StopBits: 1}
	switch {
	case (c.Config == "") != (c.Port == ""):
		return notStarted(errors.New("--config and --port belong together: the file, and the port in it"))
	case c.Config != "":
		cfg, p, err := c.port()
		if err != nil {
			return notStarted(err)
		}
		if settings = bridge.Settings(p); c.Device != "" {
			settings.Device, settings.USB = c.Device, serialport.USB{}
		}
		if o.Open, o.Decoder, err = bridge.Line(cfg, p, settings, ingest.SystemClock(time.Now()), slog.New(slog.DiscardHandler)); err != nil {
			return notStarted(err)
		}
	case c.Device == "":
		return notStarted(errors.New("--device is needed, or --config with --port; manobridge ports lists the devices"))
	}
	if err := settings.Validate(); err != nil {
		return notStarted(err)
	}
	if o.Open == nil {
		o.Open = settings.Opener()
	}
	if c.Record != "" {
		f, err := os.OpenFile(c.Record, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644) // never over an earlier recording
		if err != nil {
			return notStarted(err)
		}
		defer func() { ended = errors.Join(ended, f.Sync(), f.Close()) }()
		o.Record = f
	}
	if c.For > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, c.For)
		defer cancel()
	}
	return listening.Run(ctx, o)
}

// port gives the configuration and the port in it.
func (c *listenCommand) port() (cfg *configs.Config, p *configs.Port, err error) {
	cfg, err = loadConfig(c.Config, true)
	if err != nil {
		return nil, nil, err
	}
	for i := range cfg.Ports {
		if cfg.Ports[i].Name == c.Port {
			return cfg, &cfg.Ports[i], nil
		}
	}
	return nil, nil, fmt.Errorf("%s has no port %q", c.Config, c.Port)
}
