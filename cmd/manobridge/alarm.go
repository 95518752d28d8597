package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"

	"manobridge/cmd/manobridge/alarms"
	"manobridge/cmd/manobridge/layout"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/publish"
)

// alarmCommand is what a person does about limits.
type alarmCommand struct {
	List          alarmListCommand       `cmd:"" help:"How every limit of a running bridge stands."`
	Acknowledge   alarmAckCommand        `cmd:"" help:"Say that you have seen it."`
	Shelve        alarmShelveCommand     `cmd:"" help:"Set it aside for a time; it comes back by itself."`
	Unshelve      alarmUnshelveCommand   `cmd:"" help:"Bring it back before its time."`
	Reset         alarmResetCommand      `cmd:"" help:"Clear a latched alarm whose condition has gone."`
	OutOfService  alarmOutCommand        `cmd:"" help:"Take a limit out of service, for maintenance."`
	BackInService alarmBackCommand       `cmd:"" help:"Bring it back into service."`
	Excursions    alarmExcursionsCommand `cmd:"" help:"Every crossing of a limit, also those shorter than its delay."`
	Figures       alarmFiguresCommand    `cmd:"" help:"How the alarms did, against the published figures."`
	Prove         alarmProveCommand      `cmd:"" help:"Prove a limit to the subscriber and back with a value marked as simulated."`
}

// ofLimit is what a request about a limit needs.
type ofLimit struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file of the running bridge."`
	Limit  string `arg:"" help:"Name of the limit in the configuration."`
	Why    string `required:"" placeholder:"TEXT" help:"Why; recorded with who asks and when."`
	JSON   bool   `help:"One JSON object."`
}

// open reads the configuration, and finds the limit in it.
func (o *ofLimit) open() (*configs.Config, *configs.Limit, error) {
	cfg, err := loadConfig(o.Config, true)
	if err != nil {
		return nil, nil, err
	}
	l, err := limitNamed(cfg, o.Config, o.Limit)
	if err != nil {
		return nil, nil, notStarted(err)
	}
	if strings.TrimSpace(o.Why) == "" {
		return nil, nil, notStarted(errors.New("--why is empty; say why, for whoever reads the record later"))
	}
	return cfg, l, nil
}

func limitNamed(cfg *configs.Config, file, name string) (*configs.Limit, error) {
	names := make([]string, len(cfg.Limits))
	for i := range cfg.Limits {
		if names[i] = cfg.Limits[i].Name; names[i] == name {
			return &cfg.Limits[i], nil
		}
	}
	switch near := configs.Nearest(name, names); {
	case len(names) == 0:
		return nil, fmt.Errorf("%s has no limits", file)
	case near != "":
		return nil, fmt.Errorf("limit %q is not in %s; did you mean %s?", name, file, near)
	}
	return nil, fmt.Errorf("limit %q is not in %s; it has %s", name, file, strings.Join(names, ", "))
}

// ask makes one request of a limit.
func (o *ofLimit) ask(ctx context.Context, s streams, r publish.AlarmRequest) error {
	cfg, l, err := o.open()
	if err != nil {
		return err
	}
	client := control.NewClient(cfg.SocketPath())
	defer client.Close()
	r.ID, r.Until = strconv.FormatUint(rand.Uint64(), 36), time.Now().Add(time.Minute)
	a, err := client.Ask(ctx, control.Request{Name: "alarm", Subject: l.Name, Why: o.Why}, r, nil)
	if err := answered(a, err); err != nil {
		return err
	}
	return printAnswer(s.out, o.JSON, a, a.Text+"\n")
}

type alarmAckCommand struct {
	ofLimit    `embed:""`
	Occurrence uint64 `placeholder:"N" help:"The occurrence that was seen; if the alarm has come again since, nothing is acknowledged."`
}

// Run asks the bridge.
func (c *alarmAckCommand) Run(ctx context.Context, s streams) error {
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.Acknowledge, Saw: c.Occurrence})
}

type alarmShelveCommand struct {
	ofLimit `embed:""`
	For     time.Duration `help:"For how long, as 30m; at most what the limit allows. With --once it may be left out."`
	Once    bool          `help:"Only until the alarm next goes."`
}

// Run asks the bridge.
func (c *alarmShelveCommand) Run(ctx context.Context, s streams) error {
	if c.For <= 0 && !c.Once {
		return notStarted(errors.New("say for how long, as --for 30m, or --once"))
	}
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.Shelve, ForS: c.For.Seconds(), Once: c.Once})
}

type alarmUnshelveCommand struct {
	ofLimit `embed:""`
}

// Run asks the bridge.
func (c *alarmUnshelveCommand) Run(ctx context.Context, s streams) error {
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.Unshelve})
}

type alarmResetCommand struct {
	ofLimit `embed:""`
}

// Run asks the bridge.
func (c *alarmResetCommand) Run(ctx context.Context, s streams) error {
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.Reset})
}

type alarmOutCommand struct {
	ofLimit `embed:""`
}

// Run asks the bridge.
func (c *alarmOutCommand) Run(ctx context.Context, s streams) error {
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.OutOfService})
}

type alarmBackCommand struct {
	ofLimit `embed:""`
}

// Run asks the bridge.
func (c *alarmBackCommand) Run(ctx context.Context, s streams) error {
	return c.ask(ctx, s, publish.AlarmRequest{Act: alarms.BackInto})
}

type alarmListCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file of the running bridge."`
	JSON   bool   `help:"JSON lines, as they are on the topics."`
}

// standing is what a list shows of a limit.
type standing struct {
	Limit, State, Fault, Verdict, Priority, Why string
	Since                                       time.Time
	Occurrence                                  uint64
	Pa                                          *float64 `json:"value_pa"`
	UPa                                         *float64 `json:"expanded_uncertainty_pa"`
	PaS                                         *float64 `json:"value_pa_s"`
	UPaS                                        *float64 `json:"expanded_uncertainty_pa_s"`
}

// Run asks the bridge. It ends with the answer no where something is not normal.
func (c *alarmListCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	client := control.NewClient(cfg.SocketPath())
	defer client.Close()
	var words []json.RawMessage
	a, err := client.Ask(ctx, control.Request{Name: "alarms"}, nil, &words)
	if err := answered(a, err); err != nil {
		return err
	}
	if c.JSON {
		for _, w := range words {
			fmt.Fprintf(s.out, "%s\n", w)
		}
		return nil
	}
	if len(words) == 0 {
		_, err := fmt.Fprintln(s.out, "This bridge has no limits.")
		return err
	}
	list := make([]standing, len(words))
	for i, w := range words {
		if err := json.Unmarshal(w, &list[i]); err != nil {
			return fmt.Errorf("the answer of the bridge cannot be read: %w", err)
		}
	}
	if _, err := io.WriteString(s.out, standings(list, displayUnit(cfg))); err != nil {
		return err
	}
	if slices.ContainsFunc(list, func(l standing) bool { return l.State != "normal" || l.Fault != "normal" }) {
		return &exit{status: exitNo}
	}
	return nil
}

func standings(list []standing, unit pressureUnit) string {
	var t layout.Table
	notes := ""
	t.Head("limit", "priority", "state", "since", "no.", "verdict", "value ± U")
	for _, l := range list {
		since := "–"
		if !l.Since.IsZero() {
			since = l.Since.UTC().Format("2006-01-02 15:04:05Z")
		}
		value := "–"
		if l.Why != "" {
			notes += layout.Wrap("", "  ", l.Limit+": "+l.Why)
		}
		switch {
		case l.Pa != nil && l.UPa != nil:
			value = unit.with(*l.Pa, *l.UPa)
		case l.PaS != nil && l.UPaS != nil:
			value = unit.with(*l.PaS*60, *l.UPaS*60) + "/min"
		}
		state := l.State
		if l.Fault != "normal" {
			state += ", not measured"
		}
		t.Row(l.Limit, l.Priority, state, since, strconv.FormatUint(l.Occurrence, 10), l.Verdict, value)
	}
	return t.String() + notes
}
