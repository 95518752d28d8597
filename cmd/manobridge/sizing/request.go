package sizing

import (
	"fmt"
	"math"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
)

// Request is what an instrument is wanted for.
type Request struct {
	RangePa      [2]float64 // lower end first
	ResolvePa    float64    // the smallest change that must show
	Liquids      []string   // names; none means every liquid of the search
	MaxLengthMM  float64    // of the scale, along the tube
	TemperatureC [2]float64 // span of the room, lower end first
	PositionMM   float64    // what the digitizer tells apart, and the standard uncertainty of a position
	Config       *configs.Config
	Top          int // how many candidates to show

	slopes []float64 // ° above horizontal, for tests; nil means the whole grid
}

// Defaults for what a person leaves out.
const (
	DefaultMaxLengthMM = 1000.0
	DefaultPositionMM  = 0.1
	DefaultLowC        = 15.0
	DefaultHighC       = 30.0
	DefaultTop         = 5
)

// check refuses a request that makes no sense, in the words of the command.
func (r *Request) check() error {
	for _, v := range []struct {
		what      string
		seen      float64
		low, high float64
		unit      string
	}{
		{"--range, lower end", r.RangePa[0], -1e6, 1e6, "Pa"},
		{"--range, upper end", r.RangePa[1], -1e6, 1e6, "Pa"},
		{"--resolve", r.ResolvePa, 1e-4, 1e5, "Pa"},
		{"--max-length-mm", r.MaxLengthMM, 50, 10000, "mm"},
		{"--position-mm", r.PositionMM, 1e-4, 10, "mm"},
		{"--temperature-span, lower end", r.TemperatureC[0], -40, 60, "°C"},
		{"--temperature-span, upper end", r.TemperatureC[1], -40, 60, "°C"},
		{"--top", float64(r.Top), 1, 50, "candidates"},
	} {
		if !(v.seen >= v.low && v.seen <= v.high) {
			return fmt.Errorf("%s is %g %s; allowed: %g to %g %s", v.what, v.seen, v.unit, v.low, v.high, v.unit)
		}
	}
	if r.RangePa[0] >= r.RangePa[1] {
		return fmt.Errorf("--range runs from %g to %g Pa; the lower end comes first", r.RangePa[0], r.RangePa[1])
	}
	if r.TemperatureC[0] > r.TemperatureC[1] {
		return fmt.Errorf("--temperature-span runs from %g to %g °C; the lower end comes first", r.TemperatureC[0], r.TemperatureC[1])
	}
	if span := math.Max(math.Abs(r.RangePa[0]), math.Abs(r.RangePa[1])); r.ResolvePa >= span {
		return fmt.Errorf("--resolve is %g Pa, no smaller than the range", r.ResolvePa)
	}
	return nil
}

// site is the configuration that the candidates stand in: the one given without its instruments, or a place at standard
// gravity in ordinary air.
func (r *Request) site() *configs.Config {
	c := configs.Default("size")
	c.Site = "size"
	if r.Config != nil {
		c.Location, c.Ambient, c.Liquids = r.Config.Location, r.Config.Ambient, r.Config.Liquids
		return &c
	}
	g, exact, t, p, h := 9.80665, 0.0, r.midC(), 1013.25, 50.0
	c.Location = configs.Location{GravityMS2: &g, GravityUMS2: &exact}
	c.Ambient = configs.Ambient{TemperatureC: &t, PressureHPa: &p, RelativeHumidityPct: &h}
	return &c
}

// midC is the middle of the span of temperatures, where candidates are compared.
func (r *Request) midC() float64 { return (r.TemperatureC[0] + r.TemperatureC[1]) / 2 }

// liquids lists what to search: what was asked for, or the built-in ones that fit a manometer and those of the file. An
// unknown name is an error.
func (r *Request) liquids(c *configs.Config) ([]string, error) {
	names := r.Liquids
	if len(names) == 0 {
		names = []string{"water", "ethanol-water:0.40", "lubricating-oil:830", "lubricating-oil:880", "mercury"}
		for _, l := range c.Liquids {
			names = append(names, l.Name)
		}
	}
	for _, name := range names {
		if _, err := assemble.Fluid(c, name); err != nil {
			return nil, err
		}
		if name == "air" {
			return nil, fmt.Errorf("air is no manometer liquid")
		}
	}
	return names, nil
}
