package desk

import (
	"fmt"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/quantity"
)

// Bench is one instrument of a configuration with what computes it.
type Bench struct {
	config     *configs.Config
	instrument *configs.Instrument
	options    convert.Options
	converter  *convert.Converter
	high, low  bool // the positions its readings have
}

// Open finds an instrument and builds its converter, or says which there are.
func Open(c *configs.Config, name string) (*Bench, error) {
	in := assemble.Instrument(c, name)
	if in == nil {
		names := make([]string, len(c.Instruments))
		for i := range c.Instruments {
			names[i] = c.Instruments[i].Name
		}
		return nil, fmt.Errorf("no instrument %q in the configuration; it has %s", name, strings.Join(names, ", "))
	}
	o, err := assemble.Options(c, in)
	if err != nil {
		return nil, fmt.Errorf("instrument %s: %w", name, err)
	}
	conv, err := convert.New(o)
	if err != nil {
		return nil, fmt.Errorf("instrument %s: %w", name, err)
	}
	b := &Bench{config: c, instrument: in, options: o, converter: conv}
	b.high, b.low = assemble.Positions(c, in)
	return b, nil
}

// Given is what a person read off, each in the unit of its name; nil where it was not given.
type Given struct {
	HighMM, LowMM, Reading             *float64
	TemperatureC, TiltDeg              *float64
	AmbientC, PressureHPa, HumidityPct *float64
}

// Reading makes a reading of it. A position that the instrument needs and one that it does not read are refused:
// neither is taken for zero or passed over.
func (b *Bench) Reading(g Given) (convert.Reading, error) {
	r := convert.Reading{Name: convert.Name{Instrument: b.instrument.Name}}
	engraved := b.instrument.Geometry.Kind == configs.Graduated
	for _, p := range []struct {
		flag, what string
		value      *float64
		read       bool
	}{
		{"--high-mm", "a high-limb position", g.HighMM, b.high && !engraved},
		{"--low-mm", "a low-limb position", g.LowMM, b.low && !engraved},
		{"--reading", "an engraved scale", g.Reading, engraved},
	} {
		switch {
		case p.read && p.value == nil:
			return r, fmt.Errorf("instrument %s (%s) needs %s", b.instrument.Name, b.instrument.Geometry.Kind, p.flag)
		case !p.read && p.value != nil:
			return r, fmt.Errorf("instrument %s (%s) does not read %s; leave %s out", b.instrument.Name, b.instrument.Geometry.Kind, p.what, p.flag)
		}
	}
	if engraved {
		r.Indicated = convert.Some(*g.Reading)
	}
	set(&r.High, g.HighMM, quantity.Millimetres)
	set(&r.Low, g.LowMM, quantity.Millimetres)
	set(&r.Temperature, g.TemperatureC, quantity.Celsius)
	set(&r.Tilt, g.TiltDeg, quantity.Degrees)
	set(&r.AmbientTemperature, g.AmbientC, quantity.Celsius)
	set(&r.AmbientPressure, g.PressureHPa, func(v float64) quantity.AbsolutePressure { return quantity.AbsolutePressure(v * 100) })
	set(&r.AmbientHumidity, g.HumidityPct, func(v float64) quantity.Ratio { return quantity.Ratio(v / 100) })
	return b.converter.WithTypical(r), nil
}

// set fills an optional value where there is one.
func set[T any](to *convert.Optional[T], from *float64, unit func(float64) T) {
	if from != nil {
		*to = convert.Some(unit(*from))
	}
}

// air is the ambient air of the configuration.
func (b *Bench) air() (fluid.Air, error) {
	a := b.config.Ambient
	return fluid.NewAir(fluid.AirOptions{Pressure: quantity.AbsolutePressure(*a.PressureHPa * 100), Humidity: quantity.Ratio(*a.RelativeHumidityPct / 100)})
}

// liquids are the fluids an instrument is filled with, for the cautions.
func (b *Bench) liquids() []string {
	g := &b.instrument.Geometry
	names := []string{b.instrument.Liquid, g.LineFluid, g.ChamberLiquid}
	for _, l := range []*configs.Limb{g.High, g.Low} {
		if l != nil {
			names = append(names, l.Over)
		}
	}
	return names
}

// title names the instrument in one line.
func (b *Bench) title() string {
	return fmt.Sprintf("%s: %s with %s", b.instrument.Name, b.converter.Kind(), b.instrument.Liquid)
}

// causes gives the codes of what lessens the trust in a result.
func causes(r *convert.Result) []string {
	words := make([]string, len(r.Causes))
	for i, c := range r.Causes {
		words[i] = string(c)
	}
	return words
}
