package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/alecthomas/kong"

	"manobridge/cmd/manobridge/desk"
)

// budgetCommand shows what an uncertainty is made of.
type budgetCommand struct {
	ofInstrument `embed:""`
	At           text `placeholder:"\"120 Pa\"" help:"Pressure the budget is for, with its unit; left out, the upper end of the range."`
	asPositions  `embed:""`
	TemperatureC number `placeholder:"C" help:"Temperature of the liquid in °C; left out, that of the zero or the tie."`
	MonteCarlo   draws  `help:"Draw every input as well (JCGM 101:2008) and compare; --monte-carlo=N for the number of draws, 200000 unless stated."`
}

// Run prints the budget, largest contribution first.
func (c *budgetCommand) Run(ctx context.Context, s streams) error {
	var read pressures
	at := desk.At{TemperatureC: c.TemperatureC.v}
	var err error
	if at.Pa, err = read.read("--at", c.At); err != nil {
		return err
	}
	if c.any() {
		if at.Pa != nil {
			return notStarted(errors.New("state either --at or what was read, one of the two"))
		}
		at.Read = &desk.Given{HighMM: c.HighMM.v, LowMM: c.LowMM.v, Reading: c.Reading.v, TemperatureC: c.TemperatureC.v}
	}
	b, err := c.open(ctx, s)
	if err != nil {
		return err
	}
	budget, err := b.Budget(at)
	if err != nil {
		return unanswered(err)
	}
	if c.MonteCarlo > 0 {
		if err := b.MonteCarlo(&budget, at, int(c.MonteCarlo)); err != nil {
			return unanswered(err)
		}
	}
	read.print(s.err)
	return answer(s.out, c.JSON, budget)
}

// draws is a flag that may stand alone or have a number.
type draws int

// IsBool lets the flag stand without a value.
func (draws) IsBool() bool { return true }

// Decode reads the number where there is one.
func (d *draws) Decode(ctx *kong.DecodeContext) error {
	*d = desk.DefaultDraws
	if ctx.Scan.Peek().Type != kong.FlagValueToken {
		return nil
	}
	text := ctx.Scan.Pop().String()
	n, err := strconv.Atoi(text)
	if err != nil || n <= 0 {
		return fmt.Errorf("%q is not a number of draws; write --monte-carlo=200000", text)
	}
	*d = draws(n)
	return nil
}
