package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/caution"
	"manobridge/cmd/manobridge/review"
	"manobridge/configs"
	"manobridge/publish/journal"
)

// checkCommand validates a configuration and shows what its instruments can do.
type checkCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	JSON   bool   `help:"One JSON object."`
}

// Run prints every instrument, or every problem. Nothing is opened but the journal, to read what was done by hand.
func (c *checkCommand) Run(ctx context.Context, s streams) error {
	cfg, held, err := loadHeld(ctx, c.Config, true)
	if err != nil {
		var problems *configs.Problems
		if errors.As(err, &problems) { // check ran, and the answer is no
			return &exit{exitNo, problems}
		}
		return err
	}
	sheet := review.Sheet{Site: cfg.Site, Bridge: cfg.Bridge}
	if sheet.Gravity, err = assemble.Gravity(cfg.Location); err != nil {
		return &exit{exitNo, err}
	}
	for _, r := range cfg.Remarks {
		sheet.Remarks = append(sheet.Remarks, r.String())
	}
	out, err := outForMaintenance(ctx, cfg)
	if err != nil {
		return notStarted(err)
	}
	unit := displayUnit(cfg)
	if unit.assumed != "" {
		sheet.Remarks = append(sheet.Remarks, "display_unit: "+unit.assumed)
	}
	var liquids []string
	for i := range cfg.Instruments {
		in, err := review.Instrument(cfg, &cfg.Instruments[i])
		if err != nil {
			return &exit{exitNo, err}
		}
		if h := held[in.Name]; h != nil {
			in.Notes = append(in.Notes, h.String())
		}
		if out, ok := out[in.Name]; ok {
			in.Notes = append(in.Notes, fmt.Sprintf("out for maintenance since %s by %s: %s", out.Since.UTC().Format(time.RFC3339), out.Who, out.Why))
		}
		in.Unit, in.PerPa = unit.symbol, unit.perPa
		sheet.Instruments = append(sheet.Instruments, in)
		liquids = append(liquids, cfg.Instruments[i].Liquid)
	}
	sheet.Asked = review.Asked(cfg)
	if sheet.Limits, err = review.Limits(cfg); err != nil {
		return &exit{exitNo, err}
	}
	sheet.Cautions = caution.For(liquids...)
	if c.JSON {
		e := json.NewEncoder(s.out)
		e.SetIndent("", "  ")
		return e.Encode(sheet)
	}
	if _, err := io.WriteString(s.out, sheet.String()); err != nil {
		return fmt.Errorf("print: %w", err)
	}
	return nil
}

// outForMaintenance gives the instruments that are out, as the journal keeps them; none where there is no journal yet.
func outForMaintenance(ctx context.Context, cfg *configs.Config) (map[string]bridge.Service, error) {
	if _, err := os.Stat(cfg.Journal.Path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	r, err := journal.OpenReader(ctx, cfg.Journal.Path)
	if err != nil {
		return nil, err
	}
	out, err := bridge.ServiceOf(ctx, r)
	return out, errors.Join(err, r.Close())
}
