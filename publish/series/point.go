package series

import (
	"errors"
	"fmt"
	"math"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"manobridge/convert"
	"manobridge/publish"
)

// point makes the point of one result. Every field is a float64: a store takes the type of a field from the first
// point it sees and refuses the other type from then on.
func (s *Sink) point(r *publish.Row) (*write.Point, error) {
	if !word.MatchString(r.Instrument) {
		return nil, fmt.Errorf("instrument %q; allowed in a tag: letters, digits, _ . -", r.Instrument)
	}
	if r.ReceivedAt.IsZero() {
		return nil, errors.New("the result has no time, and the store's own would be a wrong one")
	}
	v := publish.NewPayload(&r.Result)
	p := write.NewPointWithMeasurement(Measurement).SetTime(r.ReceivedAt).
		AddTag("instrument", r.Instrument).AddTag("site", s.site)
	least, greatest, sd := v.Average.Pressures()
	for _, f := range [...]struct {
		key   string
		value convert.Optional[float64]
	}{
		{"absolute_pressure_pa", v.AbsolutePressurePa},
		{"differential_pressure_pa", v.DifferentialPressurePa},
		{"expanded_uncertainty_pa", v.ExpandedUncertaintyPa},
		{"good_fraction", v.Average.GoodFraction()},
		{"head_mm", v.HeadMM},
		{"pressure_max_pa", greatest},
		{"pressure_min_pa", least},
		{"pressure_sd_pa", sd},
		{"seq", convert.Some(float64(r.Seq))},
		{"status_code", convert.Some(float64(r.StatusCode))},
		{"temperature_c", v.TemperatureC},
	} {
		// One number that is none makes the client refuse the good points beside it too.
		if f.value.Set && !math.IsNaN(f.value.V) && !math.IsInf(f.value.V, 0) {
			p.AddField(f.key, f.value.V)
		}
	}
	return p, nil
}
