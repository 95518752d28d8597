package main

import (
	"errors"
	"fmt"
	"strings"

	"manobridge/cmd/manobridge/operate"
	"manobridge/publish/journal"
)

// healthCommand tells whether a bridge holds the journal of a configuration.
type healthCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
}

// Run ends with status 0 where a bridge is running on this configuration's journal, and is well by its own word where
// operate.listen lets it be asked; else with 3.
func (c *healthCommand) Run(s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	holder, held, err := journal.Owner(cfg.Journal.Path)
	if err != nil {
		return notStarted(err)
	}
	if !held {
		return &exit{exitNo, errors.New("no bridge is running on " + cfg.Journal.Path)}
	}
	if cfg.Operate.Listen != "" {
		h, err := operate.AskHealth(cfg.Operate.Listen)
		if err != nil {
			return &exit{exitNo, fmt.Errorf("%s holds the journal and does not answer at operate.listen: %w", holder, err)}
		}
		if len(h.Reasons) > 0 {
			return &exit{exitNo, fmt.Errorf("%s runs and does not work: %s", holder, strings.Join(h.Reasons, "; "))}
		}
		holder += "; " + h.Summary
	}
	_, err = fmt.Fprintf(s.out, "running: %s\n", holder)
	return err
}
