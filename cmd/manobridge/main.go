// Command manobridge reads digitized manometer columns over serial lines, turns each position into a pressure with its
// uncertainty, and delivers it to a broker and a time-series store, losing nothing.
//
// This package joins the others and holds the commands, one file each. It computes nothing and talks to no device itself.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

// The exit status. A supervisor restarts after failed, and not after notStarted.
const (
	exitDone       = 0 // asked to stop, or the work is done
	exitNotStarted = 1 // the configuration, a file or the journal: nothing was changed
	exitFailed     = 2 // failed while running
	exitNo         = 3 // ran, and found the answer to be no
)

// exit is an error that says which status it ends the program with. A nil cause prints nothing.
type exit struct {
	status int
	cause  error
}

func (e *exit) Error() string {
	if e.cause == nil {
		return fmt.Sprintf("exit status %d", e.status)
	}
	return e.cause.Error()
}

func (e *exit) Unwrap() error { return e.cause }

func notStarted(err error) error { return &exit{exitNotStarted, err} }

// cli is every command with its flags.
type cli struct {
	Demo      demoCommand      `cmd:"" help:"Run the whole bridge on this machine with nothing to install: simulated instruments, real frames, an embedded broker and journal."`
	Run       runCommand       `cmd:"" help:"Run the bridge as a daemon."`
	Watch     watchCommand     `cmd:"" help:"Show a running bridge: its instruments, ports and sinks, redrawn in place."`
	Zero      zeroCommand      `cmd:"" help:"Take the zero of an instrument of a running bridge, with both its ports open, and record what was found and left."`
	Service   serviceCommand   `cmd:"" help:"Take an instrument of a running bridge out for maintenance, and back."`
	Recompute recomputeCommand `cmd:"" help:"Compute results again from the raw readings in the journal, beside the first ones."`
	Alarm     alarmCommand     `cmd:"" help:"Limits of a running bridge: how they stand, acknowledge, shelve, excursions, figures, proof test."`
	Audit     auditCommand     `cmd:"" help:"The record of what people did: verify that it is whole, or print it."`
	Check     checkCommand     `cmd:"" help:"Validate a configuration and print each instrument's equation, sensitivity and uncertainty. Opens nothing."`
	Convert   convertCommand   `cmd:"" help:"Turn positions from a CSV file into pressures, offline: CSV in, JSON lines out."`
	Ports     portsCommand     `cmd:"" help:"List the serial ports of this machine with their stable identity. Opens none."`
	Export    exportCommand    `cmd:"" help:"Print the journal as JSON lines or CSV, also while the bridge runs."`
	Backup    backupCommand    `cmd:"" help:"Copy the journal, also while the bridge runs, and read the copy back."`
	Health    healthCommand    `cmd:"" help:"Tell by the exit status whether the bridge of a configuration keeps its journal going (for container health checks)."`
	Explain   explainCommand   `cmd:"" help:"Lay one conversion open: every column of the walk with its density, heights and sign, and the sum by two ways."`
	Predict   predictCommand   `cmd:"" help:"Tell which way and how far each meniscus moves when the pressure changes, and whether it stays on its scale."`
	Budget    budgetCommand    `cmd:"" help:"Show the uncertainty budget of an instrument as a table, and a Monte Carlo run beside it."`
	Size      sizeCommand      `cmd:"" help:"Search slopes, bores and liquids for an instrument of a range and a resolution."`
	Fluid     fluidCommand     `cmd:"" help:"Show density, weight, expansion, uncertainty, range and source of a liquid or of air."`
	Gravity   gravityCommand   `cmd:"" help:"Work out the local gravity of a latitude and a height."`
	Listen    listenCommand    `cmd:"" help:"Show each frame of a port as it comes, raw beside decoded, and guess the form of frames that no configuration describes."`
}

// streams are the program's connections to its caller.
type streams struct {
	in       io.Reader
	out, err io.Writer
}

func main() {
	os.Exit(execute(os.Args[1:], streams{os.Stdin, os.Stdout, os.Stderr}))
}

// execute runs one command line and gives its exit status.
func execute(args []string, s streams) int {
	ctx, stop := untilSignal(context.Background())
	defer stop()
	return executeContext(ctx, args, s)
}

func executeContext(ctx context.Context, args []string, s streams) (status int) {
	type leave int // what kong's own exits (help, version) unwind with
	defer func() {
		if r := recover(); r != nil {
			l, ok := r.(leave)
			if !ok {
				panic(r)
			}
			status = int(l)
		}
	}()
	var c cli
	parser, err := kong.New(&c,
		kong.Name("manobridge"),
		kong.Description("Liquid-column manometers over serial lines to MQTT and a time-series store: every position a pressure with its uncertainty, nothing lost."),
		kong.Writers(s.out, s.err),
		kong.Exit(func(code int) { panic(leave(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(s),
	)
	if err != nil {
		fmt.Fprintln(s.err, err)
		return exitNotStarted
	}
	cmd, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(s.err, "manobridge: %v\nmanobridge --help lists the commands.\n", err)
		return exitNotStarted
	}
	return statusOf(cmd.Run(), s.err)
}

// statusOf prints an error and gives the status it ends the program with.
func statusOf(err error, to io.Writer) int {
	if err == nil {
		return exitDone
	}
	status := exitFailed
	var e *exit
	if errors.As(err, &e) {
		status = e.status
		if e.cause == nil {
			return status
		}
	}
	fmt.Fprintf(to, "manobridge: %v\n", err)
	return status
}

// untilSignal gives a context that the first SIGINT or SIGTERM ends; a second one quits at once.
func untilSignal(parent context.Context) (context.Context, func()) {
	ctx, cancel := context.WithCancel(parent)
	got := make(chan os.Signal, 2)
	signal.Notify(got, os.Interrupt, syscall.SIGTERM)
	done := make(chan struct{})
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		select {
		case <-got:
			cancel()
		case <-done:
			return
		}
		select {
		case <-got:
			fmt.Fprintln(os.Stderr, "manobridge: second signal: stopping without delivering what is waiting; it stays in the journal")
			os.Exit(exitFailed)
		case <-done:
		}
	}()
	return ctx, func() {
		signal.Stop(got)
		close(done)
		<-ended
		cancel()
	}
}
