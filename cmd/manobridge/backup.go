package main

import (
	"context"
	"errors"
	"fmt"

	"manobridge/publish/journal"
)

// backupCommand copies the journal.
type backupCommand struct {
	Config string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Dest   string `arg:"" name:"dest" placeholder:"DEST" help:"The copy. It must not exist."`
}

// Run copies beside a running bridge. What it leaves is whole and was read back.
func (c *backupCommand) Run(ctx context.Context, s streams) error {
	cfg, err := loadConfig(c.Config, true)
	if err != nil {
		return err
	}
	copied, err := journal.Backup(ctx, cfg.Journal.Path, c.Dest)
	if errors.Is(err, context.Canceled) {
		return &exit{exitFailed, errors.New("asked to stop before the copy was whole; no copy was made")}
	}
	if err != nil {
		return notStarted(err)
	}
	_, err = fmt.Fprintf(s.out, "%s: %d results (rows %d to %d), %d bytes, read back and found whole\n",
		c.Dest, copied.Rows, copied.From, copied.To, copied.Bytes)
	return err
}
