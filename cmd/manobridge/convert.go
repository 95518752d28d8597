package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"time"

	"manobridge/cmd/manobridge/offline"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/configs"
	"manobridge/convert"
)

// convertCommand turns a CSV of positions into JSON lines of results.
type convertCommand struct {
	Config   string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Readings string `arg:"" optional:"" placeholder:"READINGS.csv" help:"CSV with a header; standard input when left out."`
	JSON     bool   `help:"JSON lines out (the only form; accepted for symmetry)."`
}

// Run converts every row, refused ones included, in order. It stops at no bad row.
func (c *convertCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	all, err := assembleAll(cfg)
	if err != nil {
		return err
	}
	converters := make(map[string]*convert.Converter, len(all))
	for name, in := range all {
		converters[name] = in.converter
	}
	sayUnused(ctx, s, cfg)
	in := s.in
	if c.Readings != "" && c.Readings != "-" {
		f, err := os.Open(c.Readings)
		if err != nil {
			return notStarted(fmt.Errorf("read %s: %w", c.Readings, err))
		}
		defer f.Close() // read only: nothing can be lost
		in = f
	}
	rows, err := offline.NewReader(in, converters)
	if err != nil {
		return notStarted(err)
	}
	signals, err := offline.SignalsOf(cfg)
	if err != nil {
		return notStarted(err)
	}
	rows.WithSignals(signals)
	out := bufio.NewWriter(s.out)
	refused := 0
	for ctx.Err() == nil {
		row, err := rows.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return errors.Join(err, out.Flush())
		}
		if row.Result.Status == convert.Bad {
			refused++
			fmt.Fprintf(s.err, "row %d refused: %v  code=%s\n", row.Number, row.Result.Refusal, row.Result.Causes[0])
		}
		if _, err := out.Write(append(row.JSON(), '\n')); err != nil {
			return fmt.Errorf("write results: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write results: %w", err)
	}
	if ctx.Err() != nil {
		return errors.New("stopped before the last row")
	}
	if refused > 0 {
		return &exit{exitNo, fmt.Errorf("%d of %d rows refused; every row has its line, with the cause", refused, rows.Count())}
	}
	return nil
}

// sayUnused says which zeros were taken on the bridge and are not gone by: rows may be of any time, and what is converted
// here is to come out the same tomorrow.
func sayUnused(ctx context.Context, s streams, cfg *configs.Config) {
	_, held, err := zeroing.Load(ctx, cfg)
	if err != nil {
		fmt.Fprintf(s.err, "rows are converted by the zero of the file; whether others were taken on the bridge cannot be told: %v\n", err)
		return
	}
	for _, name := range slices.Sorted(maps.Keys(held)) {
		if h := held[name]; !h.FileChanged {
			fmt.Fprintf(s.err, "%s: rows are converted by the zero of the file, and not by the one taken %s by %s; for rows after that write it into the file\n",
				name, h.Time.UTC().Format(time.RFC3339), h.Who)
		}
	}
}
