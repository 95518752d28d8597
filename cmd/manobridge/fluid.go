package main

import "manobridge/cmd/manobridge/desk"

// fluidCommand looks a fluid up.
type fluidCommand struct {
	Name        string `arg:"" help:"water, mercury, air, ethanol-water:0.40 (mass fraction), lubricating-oil:850 (density at 15 °C in kg/m³), or a liquid of the configuration."`
	AtC         number `default:"20" placeholder:"C" help:"Temperature in °C (${default})."`
	PressureHPa number `name:"pressure-hpa" placeholder:"HPA" help:"Pressure of air in hPa."`
	HumidityPct number `placeholder:"PCT" help:"Relative humidity of air in %."`
	Config      string `short:"c" placeholder:"FILE" help:"Configuration file, for its liquids, its air and the local gravity."`
	JSON        bool   `help:"One JSON object."`
}

// Run prints density, weight, expansion, uncertainty, range and source.
func (c *fluidCommand) Run(s streams) error {
	q := desk.FluidAt{Name: c.Name, TemperatureC: *c.AtC.v, PressureHPa: c.PressureHPa.v, HumidityPct: c.HumidityPct.v}
	if c.Config != "" {
		var err error
		if q.Config, err = loadConfig(c.Config, true); err != nil {
			return err
		}
	}
	st, err := desk.Fluid(q)
	if err != nil {
		return unanswered(err)
	}
	return answer(s.out, c.JSON, st)
}
