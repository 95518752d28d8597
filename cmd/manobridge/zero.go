package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/caution"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/configs"
)

// zeroCommand takes the zero of an instrument of a running bridge.
type zeroCommand struct {
	ofRunning     `embed:""`
	For           time.Duration `default:"30s" help:"How long to read with both ports open, 1s to 10m."`
	BothPortsOpen bool          `help:"Confirms, where nobody can be asked, that both ports are open to the same still air."`
	Drop          bool          `help:"Drop the zeros that were taken: that of the file holds again."`
}

// Run has the bridge read with both ports open, and prints what was found and left. Interrupted, it leaves all as it was.
func (c *zeroCommand) Run(ctx context.Context, s streams) error {
	cfg, in, client, err := c.open()
	if err != nil {
		return err
	}
	defer client.Close()
	args := bridge.ZeroArgs{For: c.For, BothPortsOpen: c.BothPortsOpen, Drop: c.Drop}
	if !c.Drop && !c.BothPortsOpen {
		if args.BothPortsOpen, err = confirmed(ctx, s, in); err != nil {
			return notStarted(err)
		}
		if !args.BothPortsOpen {
			return &exit{exitNo, errors.New("not confirmed; nothing was changed")}
		}
	}
	if !c.Drop {
		fmt.Fprintf(s.err, "Reading %s of %s for %s; its results are marked as a function check meanwhile. Ctrl-C leaves the zero as it is.\n", in.Name, cfg.Bridge, c.For)
	}
	var report bridge.ZeroReport
	var into any
	if !c.Drop {
		into = &report
	}
	a, err := client.Ask(ctx, control.Request{Name: "zero", Subject: in.Name, Why: c.Why}, args, into)
	if errors.Is(err, context.Canceled) {
		return &exit{exitNo, errors.New("interrupted; no zero was taken, the one before holds")}
	}
	if err := answered(a, err); err != nil {
		return err
	}
	return printAnswer(s.out, c.JSON, a, report.Text+a.Text+"\n")
}

// confirmed asks the person at the terminal.
func confirmed(ctx context.Context, s streams, in *configs.Instrument) (bool, error) {
	f, ok := s.in.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return false, errors.New("nobody can be asked whether both ports are open, as standard input is no terminal; say it with --both-ports-open")
	}
	for _, w := range caution.For(in.Liquid) {
		fmt.Fprintln(s.err, w)
	}
	fmt.Fprintf(s.err, "Are both ports of %s open to the same still air, the tubes attached, and has it the temperature of the room? [yes/no] ", in.Name)
	// A read of a terminal cannot be called back: where the person interrupts, it ends with the program.
	said := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(f).ReadString('\n')
		said <- line
	}()
	line := ""
	select {
	case line = <-said:
	case <-ctx.Done():
		fmt.Fprintln(s.err)
	}
	switch strings.ToLower(strings.TrimSpace(line)) {
	case "yes", "y":
		return true, nil
	}
	return false, nil
}
