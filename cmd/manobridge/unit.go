package main

import (
	"fmt"

	"manobridge/configs"
	"manobridge/convert/quantity"
)

// pressureUnit is the unit in which people are shown pressures. Payloads, journal and series are in Pa whatever it is.
type pressureUnit struct {
	symbol string
	perPa  float64 // units in one pascal
}

// displayUnit is the unit of a configuration.
func displayUnit(c *configs.Config) pressureUnit {
	u, err := unitNamed(c.DisplayUnit)
	if err != nil { // the configuration was checked
		return pressureUnit{"Pa", 1}
	}
	return u
}

func unitNamed(name string) (pressureUnit, error) {
	if name == "" {
		return pressureUnit{"Pa", 1}, nil
	}
	w, err := quantity.ParseDifferentialPressure("1 " + name)
	if err != nil {
		return pressureUnit{}, fmt.Errorf("unit %q: %w", name, err)
	}
	return pressureUnit{w.Unit, 1 / w.SI}, nil
}
