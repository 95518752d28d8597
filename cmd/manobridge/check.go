package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/caution"
	"manobridge/cmd/manobridge/review"
	"manobridge/configs"
)

// checkCommand validates a configuration and shows what its instruments can do.
type checkCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	JSON   bool   `help:"One JSON object."`
}

// Run prints every instrument, or every problem. Nothing is opened.
func (c *checkCommand) Run(s streams) error {
	cfg, err := loadConfig(c.Config, true)
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
	var liquids []string
	for i := range cfg.Instruments {
		in, err := review.Instrument(cfg, &cfg.Instruments[i])
		if err != nil {
			return &exit{exitNo, err}
		}
		sheet.Instruments = append(sheet.Instruments, in)
		liquids = append(liquids, cfg.Instruments[i].Liquid)
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
