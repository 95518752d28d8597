package main

import (
	"context"

	"manobridge/cmd/manobridge/desk"
)

// predictCommand is the inverse: where the menisci go.
type predictCommand struct {
	ofInstrument `embed:""`
	Change       text   `xor:"aim" required:"" placeholder:"\"120 Pa\"" help:"Change of pressure from the present state, with its unit."`
	Pressure     text   `xor:"aim" required:"" placeholder:"\"120 Pa\"" help:"Pressure to reach, with its unit."`
	From         text   `placeholder:"\"0 Pa\"" help:"Present state, with its unit; left out, the zero, or the tie where there is no zero."`
	TemperatureC number `placeholder:"C" help:"Temperature of the liquid in °C in both states; left out, that of the zero or the tie."`
}

// Run prints which way and how far each meniscus moves, and whether it stays on its scale.
func (c *predictCommand) Run(ctx context.Context, s streams) error {
	var read pressures
	aim := desk.Aim{TemperatureC: c.TemperatureC.v}
	for _, p := range []struct {
		flag string
		text text
		to   **float64
	}{{"--change", c.Change, &aim.ByPa}, {"--pressure", c.Pressure, &aim.ToPa}, {"--from", c.From, &aim.FromPa}} {
		v, err := read.read(p.flag, p.text)
		if err != nil {
			return err
		}
		*p.to = v
	}
	b, err := c.open(ctx, s)
	if err != nil {
		return err
	}
	p, err := b.Predict(aim)
	if err != nil {
		return unanswered(err)
	}
	read.print(s.err)
	if err := answer(s.out, c.JSON, p); err != nil {
		return err
	}
	if !p.OnScale {
		return &exit{exitNo, nil} // the text says so
	}
	return nil
}
