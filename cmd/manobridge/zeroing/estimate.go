// Package zeroing works out the zero of an instrument from what was read while both its ports were open, and puts a zero
// that was taken in the place of the one in the configuration file.
//
// It refuses a zero from readings that scatter, drift or change their temperature by more than the instrument's stated
// uncertainties allow: such a zero would be wrong in every result after it.
package zeroing

import (
	"fmt"
	"math"
	"slices"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/layout"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/convert/window"
)

// The limits of what counts as a still column. Common practice, no source: a reading scatters by its stated uncertainty,
// so three times that is not this instrument at rest.
const (
	// FewestReadings of which a mean and its scatter are taken.
	FewestReadings = 10
	noiseFactor    = 3
	driftFactor    = 2       // of the uncertainty of a position, over the whole time
	finest         = 0.01e-3 // m; below it no column stands stiller
	temperatureK   = 0.2     // K over the whole time, or the uncertainty of the temperature where that is larger
	worstShare     = 0.1     // of readings lost on the line
)

// Refused says why no zero was taken. Code is stable.
type Refused struct{ Code, Text string }

// Error gives the text.
func (r *Refused) Error() string { return r.Text }

func refused(code, format string, args ...any) *Refused {
	return &Refused{code, fmt.Sprintf(format, args...)}
}

// Observed is what was read while both ports were open, before any mark.
type Observed struct {
	Results []convert.Result      // those with a value
	Bad     map[convert.Cause]int // the others, by their first cause
}

// Mean is the mean of one quantity, in SI, or in the unit of the scale for a reading of one.
type Mean struct {
	Set             bool
	Value, SD, Span float64 // Span is how far the straight line through the values goes over the time
	U               float64 // standard uncertainty of the mean, from the scatter and its correlation
}

// Taken is a zero as it was worked out.
type Taken struct {
	N                    int
	Lasted               time.Duration
	High, Low, Indicated Mean
	Temperature          Mean
	Tilt                 convert.Optional[quantity.Angle]
	// AsFound is what the zero that held until then gives for the mean positions.
	AsFound convert.Result
	// Reading is the mean reading, for the one that holds from now on.
	Reading convert.Reading
}

// Take works out the zero. conv is the converter that held while o was observed.
func Take(c *configs.Config, in *configs.Instrument, conv *convert.Converter, o Observed) (*Taken, error) {
	opt, err := assemble.Options(c, in)
	if err != nil {
		return nil, err
	}
	lost := 0
	for cause, n := range o.Bad {
		lost += n
		if !slices.Contains(lineCauses, cause) {
			return nil, refused("zero-bad-readings", "%d readings were refused (%s); a zero needs readings that can all be used: put that right first", n, cause)
		}
	}
	n := len(o.Results)
	if n < FewestReadings {
		return nil, refused("zero-too-few", "%d usable readings came in that time; a zero needs at least %d: take it for longer", n, FewestReadings)
	}
	if float64(lost) > worstShare*float64(n+lost) {
		return nil, refused("zero-bad-readings", "%d of %d frames could not be read; look at the line first", lost, n+lost)
	}
	t := &Taken{N: n, Lasted: o.Results[n-1].SinceStart - o.Results[0].SinceStart}
	if t.Lasted <= 0 {
		return nil, refused("zero-too-few", "all %d readings came at one moment; a zero needs readings over some time", n)
	}
	per := 1.0
	if opt.Engraved != nil {
		per = opt.Engraved.PerUnit
	}
	t.High = mean(o.Results, func(r *convert.Result) (float64, bool) {
		return float64(r.High.V), r.High.Set && opt.Shape.High.Digitized
	})
	t.Low = mean(o.Results, func(r *convert.Result) (float64, bool) {
		return float64(r.Low.V), r.Low.Set && opt.Shape.Low.Digitized && opt.Engraved == nil
	})
	t.Indicated = mean(o.Results, func(r *convert.Result) (float64, bool) { return r.Indicated.V, r.Indicated.Set && opt.Engraved != nil })
	t.Temperature = mean(o.Results, func(r *convert.Result) (float64, bool) { return float64(r.Temperature.V), r.Temperature.Set })
	for _, p := range []struct {
		what, unit string
		m          Mean
		u, floor   float64
		toUnit     float64
	}{
		{"high-limb position", "mm", t.High, float64(opt.U.High.Position.U), finest, 1000},
		{"low-limb position", "mm", t.Low, float64(opt.U.Low.Position.U), finest, 1000},
		{"reading", in.Geometry.Unit, t.Indicated, float64(opt.U.Low.Position.U) / per, finest / per, 1},
	} {
		if !p.m.Set {
			continue
		}
		allowed := math.Max(math.Max(p.u, float64(opt.U.Resolution)), p.floor)
		if limit := noiseFactor * allowed; p.m.SD > limit {
			return nil, refused("zero-noisy", "the %s scatters by %.3g %s; allowed: %.3g %s, three times its stated uncertainty; check that both ports are open to still air and that nothing shakes the instrument",
				p.what, p.m.SD*p.toUnit, p.unit, limit*p.toUnit, p.unit)
		}
		if limit := driftFactor * allowed; math.Abs(p.m.Span) > limit {
			return nil, refused("zero-drifting", "the %s moved by %+.3g %s in %s; allowed: %.3g %s; wait until the column has come to rest and the instrument to the temperature of the room",
				p.what, p.m.Span*p.toUnit, p.unit, t.Lasted.Round(100*time.Millisecond), limit*p.toUnit, p.unit)
		}
	}
	if limit := math.Max(temperatureK, float64(opt.U.Temperature.U)); math.Abs(t.Temperature.Span) > limit {
		return nil, refused("zero-temperature", "the liquid's temperature moved by %+.2g K in %s; allowed: %.2g K; wait until the instrument has the temperature of the room",
			t.Temperature.Span, t.Lasted.Round(100*time.Millisecond), limit)
	}
	if err := t.average(conv, o.Results); err != nil {
		return nil, err
	}
	t.High.U, t.Low.U = float64(t.Reading.HighExtra.U), float64(t.Reading.LowExtra.U)
	if t.Indicated.Set {
		t.Indicated.U, t.Low.U = float64(t.Reading.LowExtra.U)/per, 0
	}
	t.Tilt = t.Reading.Tilt
	return t, nil
}

// lineCauses are what a line does to a frame now and then, and says nothing of the instrument.
var lineCauses = []convert.Cause{convert.FrameNumber, convert.FrameFields, convert.FrameNUL, convert.FrameOverlong, convert.FrameChecksum,
	convert.FrameFormat}

// average makes the mean reading with what its scatter adds, and what the old zero gives for it.
func (t *Taken) average(conv *convert.Converter, results []convert.Result) error {
	a, err := window.NewAverager(window.Options{Window: t.Lasted, Convert: func(r convert.Reading) convert.Result {
		t.Reading = r
		return conv.Convert(r)
	}})
	if err != nil {
		return err
	}
	var out convert.Result
	for _, r := range results {
		out = a.Take(r)
	}
	if out.Refusal != nil {
		return refused("zero-bad-readings", "the mean of the readings cannot be used: %v", out.Refusal)
	}
	t.AsFound = out
	return nil
}

// mean takes the mean, the scatter about the straight line through the values, and how far that line goes. The scatter of
// what drifts is that about its drift, which is judged by itself.
func mean(results []convert.Result, of func(*convert.Result) (float64, bool)) Mean {
	var n, sx, sy float64
	for i := range results {
		if v, ok := of(&results[i]); ok {
			n, sx, sy = n+1, sx+results[i].SinceStart.Seconds(), sy+v
		}
	}
	if n < 3 {
		return Mean{}
	}
	mx, my := sx/n, sy/n
	var xx, xy, yy float64
	first, last := math.Inf(1), math.Inf(-1)
	for i := range results {
		if v, ok := of(&results[i]); ok {
			x := results[i].SinceStart.Seconds()
			first, last = math.Min(first, x), math.Max(last, x)
			xx, xy, yy = xx+(x-mx)*(x-mx), xy+(x-mx)*(v-my), yy+(v-my)*(v-my)
		}
	}
	m := Mean{Set: true, Value: my}
	if xx > 0 {
		m.Span = xy / xx * (last - first)
		yy = math.Max(yy-xy*xy/xx, 0)
	}
	m.SD = math.Sqrt(yy / (n - 2))
	return m
}

// String lays the zero out for a person. left is what the new zero gives for the same readings.
func (t *Taken) String(in *configs.Instrument, left *convert.Result) string {
	text := fmt.Sprintf("Zero of %s from %d readings in %s\n", in.Name, t.N, t.Lasted.Round(100*time.Millisecond))
	line := func(label, format string, args ...any) { text += layout.Labelled(label, fmt.Sprintf(format, args...)) }
	for _, p := range []struct {
		label, unit string
		m           Mean
		by          float64
	}{{"high limb", "mm", t.High, 1000}, {"low limb", "mm", t.Low, 1000}, {"reading", in.Geometry.Unit, t.Indicated, 1}} {
		if p.m.Set {
			line(p.label, "%.4g %s, scatter %.2g %s, drift %+.2g %s, u of the mean %.2g %s", p.m.Value*p.by, p.unit, p.m.SD*p.by, p.unit, p.m.Span*p.by, p.unit, p.m.U*p.by, p.unit)
		}
	}
	line("temperature", "%.2f °C, drift %+.2g K", quantity.Temperature(t.Temperature.Value).Celsius(), t.Temperature.Span)
	line("as found", "%s by the zero before", shown(&t.AsFound))
	if left != nil {
		line("as left", "%s by the new zero", shown(left))
	}
	return text
}

func shown(r *convert.Result) string {
	pa, ok := r.Pressure()
	if !ok {
		return "no value"
	}
	return quantity.FormatWithUncertainty(pa, r.ExpandedU, r.CoverageFactor, "Pa")
}
