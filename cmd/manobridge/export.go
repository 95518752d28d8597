package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/publish/journal"
)

// exportCommand prints the journal.
type exportCommand struct {
	Config      string   `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Instrument  []string `help:"Only this instrument; may be given several times." placeholder:"NAME"`
	Since       string   `help:"From this time on, with its zone: 2026-03-01T08:00:00Z, or 24h for the last day." placeholder:"TIME"`
	Until       string   `help:"Up to this time." placeholder:"TIME"`
	CSV         bool     `help:"CSV instead of JSON lines."`
	Samples     bool     `help:"Also the single readings that averages were made of, which are not published."`
	Generation  string   `help:"Results computed anew, by the number or the tag of their generation, instead of the first ones." placeholder:"ID" xor:"what"`
	Generations bool     `help:"Which generations there are, as JSON lines." xor:"what"`
	Gaps        bool     `help:"The recorded gaps instead of the results, as JSON lines." xor:"what"`
	Events      bool     `help:"What happened to ports, clock and journal, as JSON lines." xor:"what"`
	Quarantined bool     `help:"What a sink refused, or could not be read back, with the reason, as JSON lines." xor:"what"`
	JSON        bool     `help:"JSON lines (the default)."`
}

// Run reads beside a running bridge and changes nothing.
func (c *exportCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
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
			return notStarted(fmt.Errorf("instrument %q is not in %s", name, c.Config))
		}
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	out := bufio.NewWriter(s.out)
	err = c.write(ctx, r, q, cfg.Site, out, s.err)
	return errors.Join(err, out.Flush(), r.Close())
}

func (c *exportCommand) write(ctx context.Context, r *journal.Reader, q journal.Query, site string, out, log io.Writer) error {
	switch {
	case c.Gaps:
		return writeGaps(ctx, r, q, out)
	case c.Events:
		return writeEvents(ctx, r, q, out)
	case c.Quarantined:
		return writeQuarantined(ctx, r, q, out)
	case c.Generations:
		return writeGenerations(ctx, r, out)
	}
	rows := &exportedRows{all: r.Export(ctx, q), samples: c.Samples, log: log}
	if c.Generation != "" {
		g, err := generation(ctx, r, c.Generation)
		if err != nil {
			return notStarted(err)
		}
		if g.Ended.IsZero() {
			fmt.Fprintf(log, "manobridge: generation %d was not finished; its results are not complete\n", g.ID)
		}
		rows.all, rows.generation = recomputed(ctx, r, g.ID, q), g.ID
	}
	write := writeLines
	if c.CSV {
		write = writeCSV
	}
	if err := write(rows, site, out); err != nil {
		return err
	}
	return rows.outcome()
}

// moment reads a time with its zone, or a span before now; empty is no bound.
func moment(text string, now time.Time) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if d, err := time.ParseDuration(text); err == nil {
		return now.Add(-d), nil
	}
	if t, err := time.Parse(time.RFC3339Nano, text); err == nil {
		return t, nil
	}
	return time.Time{}, fmt.Errorf("time %q cannot be read; write it with its zone, as 2026-03-01T08:00:00Z, or as a span before now, as 24h", text)
}
