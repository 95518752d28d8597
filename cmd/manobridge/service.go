package main

import (
	"context"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate/control"
)

// serviceCommand takes an instrument of a running bridge out for maintenance, and back.
type serviceCommand struct {
	ofRunning `embed:""`
	Out       bool `xor:"way" required:"" help:"Out for maintenance: its raw readings are kept, and it publishes no pressure."`
	Back      bool `xor:"way" required:"" help:"Back from it."`
}

// Run asks the bridge.
func (c *serviceCommand) Run(ctx context.Context, s streams) error {
	_, in, client, err := c.open()
	if err != nil {
		return err
	}
	defer client.Close()
	a, err := client.Ask(ctx, control.Request{Name: "service", Subject: in.Name, Why: c.Why}, bridge.ServiceArgs{Out: c.Out}, nil)
	if err := answered(a, err); err != nil {
		return err
	}
	return printAnswer(s.out, c.JSON, a, a.Text+"\n")
}
