package publishtest

import (
	"math"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Epoch is the wall time at which the made-up runs start.
var epoch = time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)

// Epoch gives the wall time at which the made-up runs start.
func Epoch() time.Time { return epoch }

// Result makes a plausible good result of a filter-test bench: the seq-th of the instrument in the run, one reading
// every 100 ms. The same name always gives the same result.
func Result(run, instrument string, seq uint64) convert.Result {
	since := time.Duration(seq) * 100 * time.Millisecond
	rise := 15 + 5*math.Sin(float64(seq)/7)
	pa := rise * 0.83 * 9.80665
	r := convert.Result{
		Reading: convert.Reading{
			Name:       convert.Name{Run: run, Instrument: instrument, Seq: seq},
			ReceivedAt: epoch.Add(since),
			SinceStart: since,
			Frame:      []byte("02,75.3,21.4"),
			Low:        convert.Some(quantity.Millimetres(math.Round(rise*50) / 10)),
			Temperature: convert.Some(quantity.Celsius(
				21.4)),
		},
		Kind:           convert.DifferentialValue,
		Differential:   quantity.DifferentialPressure(pa),
		CombinedU:      0.355 + rise/1e4,
		CoverageFactor: 2,
		EffectiveDOF:   math.Inf(1),
		Head:           convert.Some(quantity.Millimetres(rise)),
		Config:         "5f1c0de5a9c27b31",
	}
	r.ExpandedU = float64(r.CoverageFactor * r.CombinedU)
	return r
}

// Refused makes a result of a reading that could not be used.
func Refused(run, instrument string, seq uint64) convert.Result {
	r := Result(run, instrument, seq)
	return convert.Result{
		Reading: convert.Reading{
			Name: r.Name, ReceivedAt: r.ReceivedAt, SinceStart: r.SinceStart, Frame: []byte("02,7\x005.3,21.4"),
			Refusal: &convert.Refusal{Code: convert.FrameNUL, Field: "frame", Seen: `"02,7\x005.3,21.4"`,
				Allowed: "printable characters", Check: "parity setting and cable"},
		},
		Status: convert.Bad, StatusCode: 0x80310000, NE107: convert.Failure, Causes: []convert.Cause{convert.FrameNUL},
	}
}

// Series makes the results seq from to until of an instrument; every tenth is a refused one.
func Series(run, instrument string, from, until uint64) []convert.Result {
	var out []convert.Result
	for seq := from; seq <= until; seq++ {
		if seq%10 == 0 {
			out = append(out, Refused(run, instrument, seq))
			continue
		}
		out = append(out, Result(run, instrument, seq))
	}
	return out
}

// AnyResult draws any result the journal must keep exactly: measured numbers may be anything, computed ones are finite.
func AnyResult() *rapid.Generator[convert.Result] {
	return rapid.Custom(func(t *rapid.T) convert.Result {
		finite := rapid.Float64Range(-math.MaxFloat64, math.MaxFloat64)
		measured := rapid.OneOf(rapid.Float64(), rapid.Custom(func(t *rapid.T) float64 {
			return float64(rapid.Int64Range(-3000000, 3000000).Draw(t, "micrometres")) / 1e6
		}))
		r := convert.Result{
			Reading: convert.Reading{
				Name: convert.Name{
					Run:        rapid.SampledFrom([]string{"r1", "r2", "01J8Z3N5"}).Draw(t, "run"),
					Instrument: rapid.SampledFrom([]string{"hepa-bank-2", "suite-a", "suite-b"}).Draw(t, "instrument"),
					Seq:        rapid.Uint64Range(1, math.MaxInt64).Draw(t, "seq"),
				},
				ReceivedAt:         time.Unix(0, rapid.Int64Range(0, 4e18).Draw(t, "wall")).UTC(),
				SinceStart:         time.Duration(rapid.Int64Range(0, 3e17).Draw(t, "since")),
				Frame:              rapid.Custom(anyFrame).Draw(t, "frame"),
				High:               optional(t, measured, "high", quantity.Metres),
				Low:                optional(t, measured, "low", quantity.Metres),
				Indicated:          optional(t, measured, "indicated", func(v float64) float64 { return v }),
				Temperature:        optional(t, measured, "temperature", quantity.Celsius),
				Tilt:               optional(t, measured, "tilt", quantity.Radians),
				AmbientTemperature: optional(t, measured, "ambient temperature", quantity.Celsius),
				AmbientPressure:    optional(t, measured, "ambient pressure", func(v float64) quantity.AbsolutePressure { return quantity.AbsolutePressure(v) }),
				AmbientHumidity:    optional(t, measured, "humidity", func(v float64) quantity.Ratio { return quantity.Ratio(v) }),
			},
			Kind:           rapid.SampledFrom([]convert.ValueKind{convert.NoValue, convert.DifferentialValue, convert.AbsoluteValue}).Draw(t, "kind"),
			CombinedU:      finite.Draw(t, "u"),
			CoverageFactor: finite.Draw(t, "k"),
			EffectiveDOF:   rapid.OneOf(finite, rapid.Just(math.Inf(1))).Draw(t, "dof"),
			Head:           optional(t, finite, "head", quantity.Metres),
			Status:         rapid.SampledFrom([]convert.Status{convert.Good, convert.Uncertain, convert.Bad}).Draw(t, "status"),
			StatusCode:     rapid.Uint32().Draw(t, "code"),
			NE107:          rapid.SampledFrom([]convert.NE107{"", "F", "C", "S", "M"}).Draw(t, "ne107"),
			Config:         rapid.SampledFrom([]string{"", "5f1c0de5", "a9c27b31"}).Draw(t, "config"),
		}
		r.ExpandedU = float64(r.CoverageFactor * r.CombinedU)
		if math.IsInf(r.ExpandedU, 0) || rapid.Bool().Draw(t, "rounded U") {
			r.ExpandedU = finite.Draw(t, "U")
		}
		switch r.Kind {
		case convert.DifferentialValue:
			r.Differential = quantity.DifferentialPressure(finite.Draw(t, "pressure"))
		case convert.AbsoluteValue:
			r.Absolute = quantity.AbsolutePressure(finite.Draw(t, "pressure"))
		}
		for range rapid.IntRange(0, 3).Draw(t, "causes") {
			r.Causes = append(r.Causes, rapid.SampledFrom([]convert.Cause{convert.Silence, convert.LimbOffScale, convert.FrameNumber}).Draw(t, "cause"))
		}
		if rapid.Bool().Draw(t, "refused") {
			r.Refusal = &convert.Refusal{Code: convert.FrameNumber, Field: rapid.String().Draw(t, "field"),
				Seen: rapid.String().Draw(t, "seen"), Allowed: rapid.String().Draw(t, "allowed")}
		}
		if rapid.IntRange(0, 3).Draw(t, "averaged") == 0 {
			pa := rapid.OneOf(finite, rapid.Just(math.NaN()))
			n := rapid.IntRange(0, 1<<20).Draw(t, "samples")
			r.Average = &convert.Average{Window: time.Duration(rapid.Int64Range(0, 1e13).Draw(t, "window")),
				Samples: n, Good: rapid.IntRange(0, n).Draw(t, "good"),
				MinPa: pa.Draw(t, "min"), MeanPa: pa.Draw(t, "mean"), MaxPa: pa.Draw(t, "max"), SDPa: pa.Draw(t, "sd")}
			r.HighExtra = convert.Extra{U: quantity.Length(finite.Draw(t, "high u")), DOF: finite.Draw(t, "high dof")}
			r.LowExtra = convert.Extra{U: quantity.Length(finite.Draw(t, "low u")), DOF: finite.Draw(t, "low dof")}
		}
		return r
	})
}

func anyFrame(t *rapid.T) []byte {
	return rapid.SliceOfN(rapid.Byte(), -1, 512).Draw(t, "bytes")
}

func optional[T any](t *rapid.T, g *rapid.Generator[float64], label string, make func(float64) T) convert.Optional[T] {
	if !rapid.Bool().Draw(t, label+" is set") {
		return convert.Optional[T]{}
	}
	return convert.Some(make(g.Draw(t, label)))
}
