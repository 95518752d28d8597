package journal

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// RefusedResult says that a result cannot be kept because one of its numbers is none. That is a fault of the
// computation before; the journal records a gap in its place.
type RefusedResult struct {
	Name  convert.Name
	Field string
	Value float64
}

// Error names the field.
func (e *RefusedResult) Error() string {
	return fmt.Sprintf("result %s/%s/%d: %s is %v, which is not a number to keep; a gap is recorded in its place",
		e.Name.Run, e.Name.Instrument, e.Name.Seq, e.Field, e.Value)
}

// CauseNotKept is the cause of the gap a RefusedResult leaves.
const CauseNotKept convert.Cause = "result-not-finite"

// check tells whether every number that was computed is one. What was measured may be anything: a position that is
// not a number comes with a result that has no pressure.
func check(r *convert.Result) error {
	type field struct {
		name string
		v    float64
	}
	fields := [...]field{
		{"differential pressure", float64(r.Differential)}, {"absolute pressure", float64(r.Absolute)},
		{"combined uncertainty", r.CombinedU}, {"expanded uncertainty", r.ExpandedU},
		{"coverage factor", r.CoverageFactor}, {"head", 0},
	}
	if r.Head.Set {
		fields[len(fields)-1].v = float64(r.Head.V)
	}
	for _, f := range fields {
		if math.IsNaN(f.v) || math.IsInf(f.v, 0) {
			return &RefusedResult{Name: r.Name, Field: f.name, Value: f.v}
		}
	}
	if math.IsNaN(r.EffectiveDOF) || math.IsInf(r.EffectiveDOF, -1) {
		return &RefusedResult{Name: r.Name, Field: "effective degrees of freedom", Value: r.EffectiveDOF}
	}
	return nil
}

// The order of the letters in column word.
const signals = " FCSM"

// Bits of column word above status and letter.
const (
	wordSample         = 32
	wordClockUncertain = 64
)

// clockUncertain is the cause that column word also has as a bit, so that a query finds it without the list of causes.
const clockUncertain convert.Cause = "clock-uncertain"

func packWord(r *convert.Result) int64 {
	w := int64(r.Status)
	if r.NE107 != convert.NoSignal {
		w |= 4 * int64(max(0, strings.Index(signals, string(r.NE107))))
	}
	if r.Sample {
		w |= wordSample
	}
	if slices.Contains(r.Causes, clockUncertain) {
		w |= wordClockUncertain
	}
	return w
}

func unpackWord(w int64, r *convert.Result) {
	r.Status, r.NE107, r.Sample = convert.Status(w&3), convert.NoSignal, w&wordSample != 0
	if i := w >> 2 & 7; i > 0 && int(i) < len(signals) {
		r.NE107 = convert.NE107(signals[i : i+1])
	}
}

// plain gives a measured number its column value: NULL, the number, or a word for what SQLite has no number for.
func plain[T ~float64](o convert.Optional[T]) any {
	if !o.Set {
		return nil
	}
	return realOrWord(float64(o.V))
}

func realOrWord(v float64) any {
	switch {
	case math.IsNaN(v):
		return "nan"
	case math.IsInf(v, 1):
		return "+inf"
	case math.IsInf(v, -1):
		return "-inf"
	}
	return v
}

// micrometres is plain, or the whole number of micrometres where that gives back the identical length.
func micrometres(o convert.Optional[quantity.Length]) any {
	if !o.Set {
		return nil
	}
	n := math.Round(float64(o.V) * 1e6)
	if math.Abs(n) < 1<<47 && lengthOf(int64(n)) == o.V {
		return int64(n)
	}
	return realOrWord(float64(o.V))
}

func lengthOf(micrometres int64) quantity.Length {
	return quantity.Millimetres(float64(micrometres) / 1000)
}

// milliCelsius is the same in thousandths of a degree Celsius.
func milliCelsius(o convert.Optional[quantity.Temperature]) any {
	if !o.Set {
		return nil
	}
	n := math.Round(o.V.Celsius() * 1000)
	if math.Abs(n) < 1<<47 && temperatureOf(int64(n)) == o.V {
		return int64(n)
	}
	return realOrWord(float64(o.V))
}

func temperatureOf(milliCelsius int64) quantity.Temperature {
	return quantity.Celsius(float64(milliCelsius) / 1000)
}

// number reads what plain, micrometres and milliCelsius write; whole is how a whole number is meant.
func number[T ~float64](v any, whole func(int64) T) (convert.Optional[T], error) {
	switch v := v.(type) {
	case nil:
		return convert.Optional[T]{}, nil
	case float64:
		return convert.Some(T(v)), nil
	case int64:
		return convert.Some(whole(v)), nil
	case string:
		switch v {
		case "nan":
			return convert.Some(T(math.NaN())), nil
		case "+inf":
			return convert.Some(T(math.Inf(1))), nil
		case "-inf":
			return convert.Some(T(math.Inf(-1))), nil
		}
	}
	return convert.Optional[T]{}, fmt.Errorf("column holds %v, which no journal writes", v)
}

func asIs[T ~float64](v int64) T { return T(v) }

func encodeRefusal(r *convert.Refusal) any {
	if r == nil {
		return nil
	}
	b, err := json.Marshal(r)
	if err != nil { // five strings always encode
		return nil
	}
	return string(b)
}

func joinCauses(causes []convert.Cause) string {
	words := make([]string, len(causes))
	for i, c := range causes {
		words[i] = string(c)
	}
	return strings.Join(words, " ")
}

func splitCauses(s string) []convert.Cause {
	if s == "" {
		return nil
	}
	words := strings.Split(s, " ")
	causes := make([]convert.Cause, len(words))
	for i, w := range words {
		causes[i] = convert.Cause(w)
	}
	return causes
}

func unixTime(ns int64) time.Time { return time.Unix(0, ns).UTC() }
