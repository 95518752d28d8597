package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/alecthomas/kong"

	"manobridge/cmd/manobridge/desk"
	"manobridge/cmd/manobridge/layout"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// This file holds what the commands that answer one question share: flags, quantities as a person writes them, and the
// exit status of an answer.

// ofInstrument names one instrument of a configuration.
type ofInstrument struct {
	Config     string `short:"c" required:"" placeholder:"FILE" help:"Configuration file."`
	Instrument string `arg:"" help:"Name of the instrument in the configuration."`
	JSON       bool   `help:"One JSON object."`
}

// open reads the configuration and builds the instrument.
func (o *ofInstrument) open(ctx context.Context, s streams) (*desk.Bench, error) {
	cfg, held, err := loadHeld(ctx, o.Config, true)
	if err != nil {
		return nil, err
	}
	if h := held[o.Instrument]; h != nil {
		fmt.Fprintf(s.err, "%s: %s\n", o.Instrument, h)
	}
	b, err := desk.Open(cfg, o.Instrument)
	if err != nil {
		return nil, notStarted(err)
	}
	return b, nil
}

// asPositions are what was read.
type asPositions struct {
	HighMM  number `name:"high-mm" placeholder:"MM" help:"Position in the high limb, in mm along its scale."`
	LowMM   number `name:"low-mm" placeholder:"MM" help:"Position in the low limb, in mm along its scale."`
	Reading number `placeholder:"NUMBER" help:"Reading of an engraved scale, in its unit."`
}

func (a *asPositions) any() bool { return a.HighMM.v != nil || a.LowMM.v != nil || a.Reading.v != nil }

// number is a flag with a number, which may be negative: a bare "-5" after a flag would be taken for another flag. It is nil
// where the flag was left out.
type number struct{ v *float64 }

// Decode reads the number.
func (n *number) Decode(ctx *kong.DecodeContext) error {
	text := next(ctx)
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "xX_") {
		return fmt.Errorf("%q is not a number; write it alone, with a decimal point", text)
	}
	n.v = &v
	return nil
}

// next takes what follows the flag; nothing at the end of the line.
func next(ctx *kong.DecodeContext) string {
	token := ctx.Scan.Pop()
	if token.IsEOL() {
		return ""
	}
	return token.String()
}

// text is a flag with a number and its unit, which may be negative too.
type text string

// Decode takes the text; what it holds is read later, with the others.
func (t *text) Decode(ctx *kong.DecodeContext) error {
	s := next(ctx)
	if s == "" || strings.HasPrefix(s, "--") {
		return errors.New("needs a number with its unit, in quotes")
	}
	*t = text(s)
	return nil
}

// answer prints an answer as text or as JSON.
func answer(to io.Writer, asJSON bool, v fmt.Stringer) error {
	if asJSON {
		e := json.NewEncoder(to)
		e.SetIndent("", "  ")
		if err := e.Encode(v); err != nil {
			return fmt.Errorf("print: %w", err)
		}
		return nil
	}
	if _, err := io.WriteString(to, v.String()); err != nil {
		return fmt.Errorf("print: %w", err)
	}
	return nil
}

// unanswered gives an error its exit status: what was understood and has no value is a "no"; anything else is a mistake in
// the question, and nothing was done.
func unanswered(err error) error {
	var refusal *convert.Refusal
	var out *desk.OutOfRange
	switch {
	case errors.As(err, &refusal):
		return &exit{exitNo, fmt.Errorf("refused: %w  code=%s", err, refusal.Code)}
	case errors.As(err, &out):
		return &exit{exitNo, err}
	}
	return notStarted(err)
}

// pressures reads pressures as a person writes them and collects what their units were taken to mean.
type pressures struct{ notes []string }

// read gives a pressure in Pa, nil for an empty text.
func (p *pressures) read(flag string, t text) (*float64, error) {
	if t == "" {
		return nil, nil
	}
	w, err := quantity.ParseDifferentialPressure(string(t))
	if err != nil {
		return nil, notStarted(fmt.Errorf("%s: %w", flag, err))
	}
	p.note(w)
	return &w.SI, nil
}

func (p *pressures) note(w quantity.Written) {
	if w.Assumption != "" {
		p.notes = append(p.notes, w.Assumption)
	}
}

// print writes what was assumed, for a person; it goes to standard error, so that JSON stays whole.
func (p *pressures) print(to io.Writer) {
	for _, n := range p.notes {
		fmt.Fprint(to, layout.Wrap("note: ", "      ", n))
	}
}

// span reads "0..250 Pa" or "0 Pa..250 Pa" in the SI unit of the kind: the unit of the first number may be left to the second.
func span(flag string, kind quantity.Kind, t text) (ends [2]float64, notes []quantity.Written, err error) {
	low, high, found := strings.Cut(string(t), "..")
	if !found {
		return ends, nil, notStarted(fmt.Errorf("%s: %q is not two numbers with two points between them, as 0..250 with its unit", flag, t))
	}
	to, err := kind.Parse(high)
	if err != nil {
		return ends, nil, notStarted(fmt.Errorf("%s: %w", flag, err))
	}
	from, err := kind.Parse(low)
	if err != nil {
		if from, err = kind.Parse(low + " " + to.Unit); err != nil {
			return ends, nil, notStarted(fmt.Errorf("%s: %w", flag, err))
		}
	}
	return [2]float64{from.SI, to.SI}, []quantity.Written{to}, nil
}
