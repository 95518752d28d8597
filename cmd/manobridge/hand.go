package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
)

// serveRequests answers what people ask of a running bridge, until the function it returns is called. Where its socket
// cannot be had, that is said and the bridge runs on without it.
func serveRequests(c *configs.Config, b *bridge.Bridge, log *slog.Logger) (stop func()) {
	s := control.NewServer(c.SocketPath(), log)
	err := b.Offer(s)
	if err == nil {
		err = s.Open()
	}
	if err != nil {
		log.Error("commands such as watch, zero and service cannot reach this bridge; readings are not touched; check the path and who may write its directory", "code", "control-socket", "reason", err.Error())
		return func() {}
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	return func() {
		cancel()
		if err := <-done; err != nil {
			log.Error("the control socket failed; readings were not touched", "code", "control-socket", "reason", err.Error())
		}
	}
}

// ofRunning names one instrument of a bridge that runs, and says why something is done to it.
type ofRunning struct {
	Config     string `short:"c" required:"" placeholder:"FILE" help:"Configuration file of the running bridge."`
	Instrument string `arg:"" help:"Name of the instrument in the configuration."`
	Why        string `required:"" placeholder:"TEXT" help:"Why; recorded with who asks and when."`
	JSON       bool   `help:"One JSON object."`
}

// open reads the configuration and gives the client and the instrument.
func (o *ofRunning) open() (*configs.Config, *configs.Instrument, *control.Client, error) {
	cfg, err := loadConfig(o.Config, true)
	if err != nil {
		return nil, nil, nil, err
	}
	in := assemble.Instrument(cfg, o.Instrument)
	if in == nil {
		return nil, nil, nil, notStarted(noSuchInstrument(cfg, o.Config, o.Instrument))
	}
	if strings.TrimSpace(o.Why) == "" {
		return nil, nil, nil, notStarted(errors.New("--why is empty; say why, for whoever reads the record later"))
	}
	return cfg, in, control.NewClient(cfg.SocketPath()), nil
}

func noSuchInstrument(cfg *configs.Config, file, name string) error {
	names := make([]string, len(cfg.Instruments))
	for i := range cfg.Instruments {
		names[i] = cfg.Instruments[i].Name
	}
	hint := ""
	if near := configs.Nearest(name, names); near != "" {
		hint = "; did you mean " + near + "?"
	}
	return fmt.Errorf("instrument %q is not in %s%s; it has %s", name, file, hint, strings.Join(names, ", "))
}

// answered gives the exit of an answer: one that says no is said on standard error.
func answered(a control.Answer, err error) error {
	var u *control.Unreachable
	switch {
	case errors.As(err, &u):
		return notStarted(err)
	case err != nil:
		return err
	case !a.Done:
		return &exit{exitNo, fmt.Errorf("%s (%s)", a.Text, a.Code)}
	}
	return nil
}

// printAnswer prints the text of an answer, or its data where JSON is wanted.
func printAnswer(out io.Writer, asJSON bool, a control.Answer, text string) error {
	if asJSON {
		if len(a.Data) == 0 {
			data, err := json.Marshal(map[string]string{"text": a.Text})
			if err != nil {
				return err
			}
			a.Data = data
		}
		_, err := fmt.Fprintf(out, "%s\n", a.Data)
		return err
	}
	_, err := io.WriteString(out, text)
	return err
}
