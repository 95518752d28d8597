package main

import (
	"manobridge/cmd/manobridge/sizing"
	"manobridge/convert/quantity"
)

// sizeCommand searches instruments for a range and a resolution.
type sizeCommand struct {
	Range           text     `required:"" placeholder:"\"0..250 Pa\"" help:"Pressures it must show, with their unit."`
	Resolve         text     `required:"" placeholder:"\"1 Pa\"" help:"Smallest change that must show, with its unit."`
	Liquid          []string `placeholder:"NAME" help:"Liquid to search with; may be repeated. Left out, the usual ones and those of the configuration."`
	MaxLengthMM     float64  `name:"max-length-mm" default:"1000" placeholder:"MM" help:"Longest scale, in mm along the tube (${default})."`
	TemperatureSpan text     `default:"15..30 °C" help:"Coldest and warmest room, with their unit (${default})."`
	PositionMM      float64  `name:"position-mm" default:"0.1" placeholder:"MM" help:"What the digitizer tells apart, and the standard uncertainty of a position, in mm (${default})."`
	Top             int      `default:"5" placeholder:"N" help:"How many candidates to show (${default})."`
	Config          string   `short:"c" placeholder:"FILE" help:"Configuration file, for its liquids, its gravity and its air."`
	JSON            bool     `help:"One JSON object."`
}

// Run prints the candidates, best first, and why the others were refused.
func (c *sizeCommand) Run(s streams) error {
	r := sizing.Request{Liquids: c.Liquid, MaxLengthMM: c.MaxLengthMM, PositionMM: c.PositionMM, Top: c.Top}
	var read pressures
	ends, written, err := span("--range", quantity.PressureKind, c.Range)
	if err != nil {
		return err
	}
	for _, w := range written {
		read.note(w)
	}
	r.RangePa = ends
	resolve, err := read.read("--resolve", c.Resolve)
	if err != nil {
		return err
	}
	if resolve != nil {
		r.ResolvePa = *resolve
	}
	room, _, err := span("--temperature-span", quantity.TemperatureKind, c.TemperatureSpan)
	if err != nil {
		return err
	}
	for i, kelvin := range room {
		r.TemperatureC[i] = quantity.Temperature(kelvin).Celsius()
	}
	if c.Config != "" {
		if r.Config, err = loadConfig(c.Config, true); err != nil {
			return err
		}
	}
	out, err := sizing.Search(r)
	if err != nil {
		return notStarted(err)
	}
	read.print(s.err)
	if err := answer(s.out, c.JSON, out); err != nil {
		return err
	}
	if out.Accepted == 0 {
		return &exit{exitNo, nil} // the text says why
	}
	return nil
}
