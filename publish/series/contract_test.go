package series_test

import (
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

func TestContract(t *testing.T) {
	store := publishtest.InfluxDB(t, "pressure")
	sink := open(t, func(o *series.Options) { o.Timeout = 2 * time.Second }, store.URL())
	publishtest.Contract{
		Sink: sink, Down: store.Stop, Up: store.Start,
		Reached: func(l *publishtest.Ledger) {
			// The store has no run and no frame: what it has is compared with the result of that name, by its numbers.
			var results []convert.Result
			samples := publishtest.ReadInfluxDB(t, store, "pressure", series.Measurement)
			for _, s := range samples {
				if s.Field == "seq" {
					r := publishtest.Result("contract", s.Instrument, uint64(s.Value))
					if r.Seq%10 == 0 {
						r = publishtest.Refused("contract", s.Instrument, r.Seq)
					}
					results = append(results, r)
				}
			}
			compare(t, samples, results, 1, 0)
			for _, r := range results {
				l.Delivered("series", publish.Row{Result: r})
			}
		},
	}.Run(t)
}
