package main

import (
	"fmt"
	"strconv"
	"strings"

	"manobridge/configs"
	"manobridge/convert/quantity"
)

// pressureUnit is the unit in which people are shown pressures. Payloads, journal and series are in Pa whatever it is.
type pressureUnit struct {
	symbol  string
	perPa   float64 // units in one pascal
	assumed string  // what an unqualified unit is taken for; shown beside it
}

// displayUnit is the unit of a configuration.
func displayUnit(c *configs.Config) pressureUnit {
	u, err := unitNamed(c.DisplayUnit)
	if err != nil { // the configuration was checked
		return pressureUnit{symbol: "Pa", perPa: 1}
	}
	return u
}

func unitNamed(name string) (pressureUnit, error) {
	if name == "" {
		return pressureUnit{symbol: "Pa", perPa: 1}, nil
	}
	w, err := quantity.ParseDifferentialPressure("1 " + name)
	if err != nil {
		return pressureUnit{}, fmt.Errorf("unit %q: %w", name, err)
	}
	return pressureUnit{w.Unit, 1 / w.SI, w.Assumption}, nil
}

// show writes a pressure in six digits, which is finer than any column.
func (u pressureUnit) show(pa float64) string {
	return strconv.FormatFloat(pa*u.perPa, 'g', 6, 64) + " " + u.symbol
}

// with writes a pressure with its expanded uncertainty, both to the same place.
func (u pressureUnit) with(pa, expanded float64) string {
	text, _, _ := strings.Cut(quantity.FormatWithUncertainty(pa*u.perPa, expanded*u.perPa, 2, u.symbol), " (k")
	return text
}
