package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// exportCommand prints the journal.
type exportCommand struct {
	Config     string   `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Instrument []string `help:"Only this instrument; may be given several times." placeholder:"NAME"`
	Since      string   `help:"From this time on, with its zone: 2026-03-01T08:00:00Z, or 24h for the last day." placeholder:"TIME"`
	Until      string   `help:"Up to this time." placeholder:"TIME"`
	CSV        bool     `help:"CSV instead of JSON lines."`
	Gaps       bool     `help:"The recorded gaps instead of the results, as JSON lines."`
	JSON       bool     `help:"JSON lines (the default)."`
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
	switch {
	case c.Gaps:
		err = writeGaps(ctx, r, out)
	case c.CSV:
		err = writeCSV(ctx, r, q, out)
	default:
		err = writeLines(ctx, r, q, cfg.Site, out)
	}
	return errors.Join(err, out.Flush(), r.Close())
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

func writeLines(ctx context.Context, r *journal.Reader, q journal.Query, site string, out io.Writer) error {
	var buf []byte
	for row, err := range r.Export(ctx, q) {
		if err != nil {
			return err
		}
		p := publish.NewMessage(site, &row.Result)
		buf = append(p.Append(buf[:0]), '\n')
		if _, err := out.Write(buf); err != nil {
			return err
		}
	}
	return nil
}

func writeCSV(ctx context.Context, r *journal.Reader, q journal.Query, out io.Writer) error {
	w := csv.NewWriter(out)
	header := []string{"time", "instrument", "run", "seq", "high_mm", "low_mm", "pressure_pa", "expanded_uncertainty_pa", "coverage_factor",
		"head_mm", "temperature_c", "status", "status_code", "ne107", "causes", "config", "frame"}
	if err := w.Write(header); err != nil {
		return err
	}
	num := func(v convert.Optional[float64]) string {
		if !v.Set {
			return ""
		}
		return strconv.FormatFloat(v.V, 'g', -1, 64)
	}
	mm := func(v convert.Optional[quantity.Length]) string {
		return num(convert.Optional[float64]{V: v.V.Millimetres(), Set: v.Set})
	}
	for row, err := range r.Export(ctx, q) {
		if err != nil {
			return err
		}
		p := publish.NewPayload(&row.Result)
		pa := p.DifferentialPressurePa
		if row.Kind == convert.AbsoluteValue {
			pa = p.AbsolutePressurePa
		}
		causes := make([]string, len(row.Causes))
		for i, cause := range row.Causes {
			causes[i] = string(cause)
		}
		record := []string{
			row.ReceivedAt.UTC().Format(time.RFC3339Nano), row.Instrument, row.Run, strconv.FormatUint(row.Seq, 10),
			mm(row.High), mm(row.Low), num(pa), num(p.ExpandedUncertaintyPa), num(p.CoverageFactor), num(p.HeadMM), num(p.TemperatureC),
			row.Status.String(), strconv.FormatUint(uint64(row.StatusCode), 10), string(row.NE107), strings.Join(causes, " "), row.Config,
			strconv.QuoteToASCII(string(row.Frame)),
		}
		if err := w.Write(record); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}
