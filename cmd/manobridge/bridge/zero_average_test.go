package bridge_test

import (
	"math"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/ingest/ingesttest"
)

// No average is made of pressures by two zeros. The column at rest stands 1.2 mm above the zero of the file, which is 2.05 Pa
// (worked by hand beside the test of the zero); its digitizer shows ±0.02 mm, which is 0.034 Pa. The instrument is linear
// within that, so the mean of the pressures is the pressure of the mean, and none of them is further from it than 0.07 Pa.
func TestNoAverageOverTwoZeros(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	cfg := config(t, line.Path, path, "")
	cfg.Instruments[0].Average = &configs.Average{Window: configs.Duration(1500 * time.Millisecond)}
	x := start(t, cfg)
	opened(t, x, line)
	c := reach(t, x)
	stop := sending(t, line, still)
	eventually(t, "the first reading", func() bool { return x.b.Counts().Readings > 0 })
	var report bridge.ZeroReport
	if a := asked(t, c, "zero", "bank-1", "after moving the bench", bridge.ZeroArgs{For: time.Second, BothPortsOpen: true}, &report); !a.Done {
		t.Fatalf("got %+v, want a zero\n%s", a, x.log.String())
	}
	eventually(t, "an average by the new zero", func() bool {
		v := look(t, c, "bank-1")
		return v.Config == report.Config && v.PressurePa != nil && math.Abs(*v.PressurePa) < 0.06
	})
	eventually(t, "two windows more", func() bool { return x.b.Counts().Readings > 170 })
	stop()
	x.end()
	averages := 0
	for _, row := range rows(t, path) {
		if row.Average == nil || row.Config != report.Config {
			continue
		}
		averages++
		pa, _ := row.Pressure()
		for _, v := range []float64{row.Average.MinPa, row.Average.MeanPa, row.Average.MaxPa} {
			if math.Abs(v-pa) > 0.07 {
				t.Errorf("seq %d: got %+v about a result of %.4f Pa, want all within 0.07 Pa of it", row.Seq, *row.Average, pa)
			}
		}
	}
	if averages == 0 {
		t.Error("got no average by the new zero")
	}
}
