package main

import "manobridge/cmd/manobridge/desk"

// gravityCommand works out local gravity.
type gravityCommand struct {
	LatitudeDeg number `required:"" placeholder:"DEG" help:"Geographic latitude in degrees, north positive."`
	HeightM     number `required:"" placeholder:"M" help:"Height above sea level in metres."`
	JSON        bool   `help:"One JSON object."`
}

// Run prints the gravity with its uncertainty and source.
func (c *gravityCommand) Run(s streams) error {
	p, err := desk.Gravity(*c.LatitudeDeg.v, *c.HeightM.v)
	if err != nil {
		return notStarted(err)
	}
	return answer(s.out, c.JSON, p)
}
