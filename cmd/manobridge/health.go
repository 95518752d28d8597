package main

import (
	"errors"
	"fmt"

	"manobridge/publish/journal"
)

// healthCommand tells whether a bridge holds the journal of a configuration.
type healthCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
}

// Run ends with status 0 where a bridge is running on this configuration's journal, 3 where none is.
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
	_, err = fmt.Fprintf(s.out, "running: %s\n", holder)
	return err
}
