package main

import (
	"context"

	"manobridge/cmd/manobridge/desk"
)

// explainCommand lays one conversion open.
type explainCommand struct {
	ofInstrument `embed:""`
	asPositions  `embed:""`
	TemperatureC number `placeholder:"C" help:"Temperature of the liquid in °C."`
	TiltDeg      number `placeholder:"DEG" help:"Tilt of the base in degrees, far end up."`
	AmbientC     number `placeholder:"C" help:"Air temperature in °C; left out, that of the configuration."`
	PressureHPa  number `name:"pressure-hpa" placeholder:"HPA" help:"Station pressure in hPa; left out, that of the configuration."`
	HumidityPct  number `placeholder:"PCT" help:"Relative humidity in %; left out, that of the configuration."`
}

// Run prints every column with its sign, and the result.
func (c *explainCommand) Run(ctx context.Context, s streams) error {
	b, err := c.open(ctx, s)
	if err != nil {
		return err
	}
	x, err := b.Explain(desk.Given{HighMM: c.HighMM.v, LowMM: c.LowMM.v, Reading: c.Reading.v, TemperatureC: c.TemperatureC.v, TiltDeg: c.TiltDeg.v,
		AmbientC: c.AmbientC.v, PressureHPa: c.PressureHPa.v, HumidityPct: c.HumidityPct.v})
	if err != nil {
		return unanswered(err)
	}
	return answer(s.out, c.JSON, x)
}
