package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/user"
	"strings"
	"time"

	"manobridge/cmd/manobridge/acts"
	"manobridge/cmd/manobridge/anew"
	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/series"
)

// recomputeCommand computes results again from the readings in the journal.
type recomputeCommand struct {
	Config     string   `short:"c" required:"" placeholder:"FILE" help:"Configuration file, with the coefficients to compute with."`
	Instrument []string `placeholder:"NAME" help:"Only this instrument; may be given several times."`
	Since      string   `placeholder:"TIME" help:"From this time on, with its zone: 2026-03-01T08:00:00Z, or 24h for the last day."`
	Until      string   `placeholder:"TIME" help:"Up to this time; left out, until now."`
	Publish    string   `placeholder:"TAG" help:"Write the new results to the time-series store as well, with this as their tag generation."`
	Why        string   `required:"" placeholder:"TEXT" help:"Why; recorded with who asks and when."`
	JSON       bool     `help:"One JSON object."`
}

// Run computes a generation beside the first results: through the bridge where one runs, else on the journal itself.
func (c *recomputeCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, c.Publish == "")
	if err != nil {
		return err
	}
	q := journal.Query{Instruments: c.Instrument}
	now := time.Now()
	if q.Since, err = moment(c.Since, now); err != nil {
		return notStarted(err)
	}
	if q.Until, err = moment(c.Until, now); err != nil {
		return notStarted(err)
	}
	for _, name := range c.Instrument {
		if assemble.Instrument(cfg, name) == nil {
			return notStarted(noSuchInstrument(cfg, c.Config, name))
		}
	}
	if strings.TrimSpace(c.Why) == "" {
		return notStarted(errors.New("--why is empty; say why, for whoever reads the record later"))
	}
	var store *series.Generation
	if c.Publish != "" {
		if store, err = generationStore(cfg, c.Publish); err != nil {
			return notStarted(err)
		}
		defer store.Close() // only idle connections
	}
	report, err := c.compute(ctx, cfg, q, now)
	if err != nil {
		return err
	}
	if c.JSON {
		e := json.NewEncoder(s.out)
		e.SetIndent("", "  ")
		err = e.Encode(report)
	} else {
		_, err = io.WriteString(s.out, report.String(displayUnit(cfg).show))
	}
	if err != nil || store == nil {
		return err
	}
	n, err := deliverGeneration(ctx, cfg.Journal.Path, report.Generation, store)
	if err != nil {
		return fmt.Errorf("generation %d is in the journal; of it %d results were written to the store before it failed: %w", report.Generation, n, err)
	}
	fmt.Fprintf(s.err, "%d results written to the store with generation=%s.\n", n, c.Publish)
	return nil
}

func (c *recomputeCommand) compute(ctx context.Context, cfg *configs.Config, q journal.Query, now time.Time) (report anew.Report, err error) {
	text, err := os.ReadFile(c.Config)
	if err != nil {
		return report, notStarted(err)
	}
	client := control.NewClient(cfg.SocketPath())
	defer client.Close()
	a, err := client.Ask(ctx, control.Request{Name: "recompute", Why: c.Why}, bridge.RecomputeArgs{File: c.Config, Text: string(text),
		Instruments: q.Instruments, Since: q.Since, Until: q.Until, Tag: c.Publish}, &report)
	var u *control.Unreachable
	if !errors.As(err, &u) || !u.NotThere() {
		return report, answered(a, err)
	}
	// No bridge runs: the journal is ours for the while.
	j, err := journal.OpenTool(ctx, cfg.Journal.Path, "recompute", slog.New(slog.DiscardHandler))
	if err != nil {
		return report, notStarted(err)
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	me, err := user.Current()
	if err != nil {
		return report, notStarted(fmt.Errorf("who asks cannot be told: %w", err))
	}
	o := anew.Options{Config: cfg, Query: q, Who: me.Username, Why: c.Why, Tag: c.Publish, Now: now.UTC()}
	if report, err = anew.Run(ctx, j, o); err != nil {
		return report, err
	}
	_, err = j.AppendAct(ctx, func(prev journal.Act) journal.Act { return acts.Seal(prev, report.Act(o)) })
	return report, err
}

// generationStore is the store of a configuration under a tag of its own. It connects with the first result.
func generationStore(cfg *configs.Config, tag string) (*series.Generation, error) {
	o := cfg.Publish.Series
	if o == nil {
		return nil, errors.New("--publish needs publish.series in the configuration")
	}
	return series.NewGeneration(series.Options{URL: o.URL, Org: o.Org, Bucket: o.Bucket, Token: o.Token.Reveal(), Site: cfg.Site}, tag)
}

// deliverGeneration writes the results of a generation that were published at first, and so no samples.
func deliverGeneration(ctx context.Context, path string, generation int64, store *series.Generation) (n int, err error) {
	r, err := journal.OpenReader(ctx, path)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	var batch []publish.Row
	flush := func() error {
		if len(batch) == 0 {
			return nil
		}
		if err := store.Deliver(ctx, batch); err != nil {
			return err
		}
		n += len(batch)
		batch = batch[:0]
		return nil
	}
	for v, err := range r.Recomputed(ctx, generation, journal.Query{}) {
		if err != nil {
			return n, err
		}
		if v.Sample {
			continue
		}
		if batch = append(batch, publish.Row{ID: v.Row, Result: v.Result}); len(batch) == series.Largest {
			if err := flush(); err != nil {
				return n, err
			}
		}
	}
	return n, flush()
}
