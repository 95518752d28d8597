package publish

import (
	"fmt"

	"manobridge/convert"
)

// Average is what an averaged result was made of, as other programs see it. The pressure of the result itself is that of
// the mean positions.
type Average struct {
	WindowS convert.Optional[float64] // from the first reading of the window to the one that closed it
	Samples int                       // readings in it, refused ones included
	Good    int                       // of them with a pressure
	// Of the pressures of the good ones; the standard deviation says how much the pressure moved, not how uncertain its
	// mean is.
	MinPa, MeanPa, MaxPa, SDPa convert.Optional[float64]
}

func averageOf(a *convert.Average) *Average {
	if a == nil {
		return nil
	}
	return &Average{WindowS: number(a.Window.Seconds()), Samples: a.Samples, Good: a.Good,
		MinPa: number(a.MinPa), MeanPa: number(a.MeanPa), MaxPa: number(a.MaxPa), SDPa: number(a.SDPa)}
}

// GoodFraction is the share of the readings that were good; absent where there is no average.
func (a *Average) GoodFraction() convert.Optional[float64] {
	if a == nil || a.Samples == 0 {
		return convert.Optional[float64]{}
	}
	return convert.Some(float64(a.Good) / float64(a.Samples))
}

// Pressures gives the least, the greatest and the standard deviation in Pa; absent where there is no average.
func (a *Average) Pressures() (least, greatest, sd convert.Optional[float64]) {
	if a == nil {
		return least, greatest, sd
	}
	return a.MinPa, a.MaxPa, a.SDPa
}

func (a *Average) append(dst []byte) []byte {
	if a == nil {
		return dst
	}
	dst = appendField(dst, `,"window_s":`, a.WindowS)
	dst = append(dst, `,"samples":`...)
	dst = appendInt(dst, uint64(max(a.Samples, 0)))
	dst = append(dst, `,"good_samples":`...)
	dst = appendInt(dst, uint64(max(a.Good, 0)))
	dst = appendField(dst, `,"pressure_min_pa":`, a.MinPa)
	dst = appendField(dst, `,"pressure_mean_pa":`, a.MeanPa)
	dst = appendField(dst, `,"pressure_max_pa":`, a.MaxPa)
	return appendField(dst, `,"pressure_sd_pa":`, a.SDPa)
}

// average gives the average of the wire form, nil where it has none.
func (o *object) average() (*Average, error) {
	if o.Samples == nil && o.GoodSamples == nil {
		return nil, nil
	}
	if o.Samples == nil {
		return nil, missingKey("samples")
	}
	if o.GoodSamples == nil {
		return nil, missingKey("good_samples")
	}
	a := &Average{WindowS: optional(o.WindowS), Samples: *o.Samples, Good: *o.GoodSamples, MinPa: optional(o.PressureMinPa),
		MeanPa: optional(o.PressureMeanPa), MaxPa: optional(o.PressureMaxPa), SDPa: optional(o.PressureSDPa)}
	if a.Good < 0 || a.Good > a.Samples {
		return nil, fmt.Errorf("read payload: %d good of %d samples, allowed 0 to all of them", a.Good, a.Samples)
	}
	return a, nil
}
