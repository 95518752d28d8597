package series

import (
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// An average brings four fields more, floats like all the others; a reading of its own brings none of them.
func TestFieldsOfAnAverage(t *testing.T) {
	s := &Sink{site: "hall-3"}
	fields := func(r convert.Result) map[string]any {
		p, err := s.point(&publish.Row{Result: r})
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]any{}
		for _, f := range p.FieldList() {
			out[f.Key] = f.Value
		}
		return out
	}
	r := publishtest.Result("r1", "suite-a", 1)
	plain := fields(r)
	r.Average = &convert.Average{Window: 10 * time.Second, Samples: 20, Good: 15, MinPa: 11.5, MeanPa: 12, MaxPa: 12.25, SDPa: 0.125}
	got := fields(r)
	for key, want := range map[string]float64{"pressure_min_pa": 11.5, "pressure_max_pa": 12.25, "pressure_sd_pa": 0.125, "good_fraction": 0.75} {
		if got[key] != want {
			t.Errorf("%s: got %v, want %v", key, got[key], want)
		}
		if v, there := plain[key]; there {
			t.Errorf("%s of one reading: got %v, want none", key, v)
		}
	}
}
