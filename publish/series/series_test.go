package series_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"go.uber.org/goleak"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func open(t *testing.T, change func(*series.Options), at string) *series.Sink {
	t.Helper()
	opt := series.Options{URL: at, Org: "lab", Bucket: "pressure", Site: "hall-3", Timeout: 10 * time.Second}
	if change != nil {
		change(&opt)
	}
	s, err := series.New(opt)
	if err != nil {
		t.Fatalf("New: %v", err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func rows(results ...convert.Result) []publish.Row {
	out := make([]publish.Row, len(results))
	for i := range results {
		out[i] = publish.Row{ID: int64(i + 1), Result: results[i]}
	}
	return out
}

// scenario is results of every kind: good, refused, of a sealed instrument, without a temperature, with numbers at the
// edge of float64, and with a number that is none.
func scenario() []convert.Result {
	out := publishtest.Series("r1", "hepa-bank-2", 1, 25)
	absolute := publishtest.Result("r1", "barometer", 1)
	absolute.Kind, absolute.Absolute, absolute.Differential = convert.AbsoluteValue, 101325.25, 0
	bare := publishtest.Result("r1", "barometer", 2)
	bare.Temperature, bare.Head = convert.Optional[quantity.Temperature]{}, convert.Optional[quantity.Length]{}
	edge := publishtest.Result("r1", "suite-a", 1<<53)
	edge.ReceivedAt = publishtest.Epoch()
	edge.Differential, edge.CombinedU, edge.ExpandedU = -0.1+0.2-1e-9, math.SmallestNonzeroFloat64, math.MaxFloat64
	none := publishtest.Result("r1", "suite-a", 2)
	none.ExpandedU = math.NaN()
	return append(out, absolute, bare, edge, none)
}

type key struct {
	at                time.Time
	instrument, field string
}

// want gives the samples from the results themselves. Lengths and temperatures are converted from SI units, which
// rounds; hence the tolerance there.
func want(results []convert.Result, resolution time.Duration) map[key]float64 {
	out := map[key]float64{}
	for _, r := range results {
		put := func(field string, v float64) {
			if !math.IsNaN(v) {
				out[key{r.ReceivedAt.Truncate(resolution), r.Instrument, field}] = v
			}
		}
		put("status_code", float64(r.StatusCode))
		put("seq", float64(r.Seq))
		switch r.Kind {
		case convert.DifferentialValue:
			put("differential_pressure_pa", float64(r.Differential))
			put("expanded_uncertainty_pa", r.ExpandedU)
		case convert.AbsoluteValue:
			put("absolute_pressure_pa", float64(r.Absolute))
			put("expanded_uncertainty_pa", r.ExpandedU)
		}
		if r.Head.Set {
			put("head_mm", float64(r.Head.V)*1000)
		}
		if r.Temperature.Set {
			put("temperature_c", float64(r.Temperature.V)-273.15)
		}
	}
	return out
}

// compare allows relative beside what converting back to mm and °C rounds.
func compare(t *testing.T, got []publishtest.Sample, results []convert.Result, resolution time.Duration, relative float64) {
	t.Helper()
	expected := want(results, resolution)
	for _, s := range got {
		k := key{s.Time, s.Instrument, s.Field}
		w, ok := expected[k]
		tol := relative * math.Abs(w)
		if s.Field == "head_mm" || s.Field == "temperature_c" {
			tol += 1e-9
		}
		switch {
		case s.Site != "hall-3":
			t.Errorf("%+v: got site %q, want hall-3", k, s.Site)
		case !ok:
			t.Errorf("%+v: got %v, want no such sample", k, s.Value)
		case !(math.Abs(s.Value-w) <= tol):
			t.Errorf("%+v: got %v, want %v ± %v", k, s.Value, w, tol)
		}
		delete(expected, k)
	}
	for k := range expected {
		t.Errorf("%+v: got no sample, want one", k)
	}
}

// The store keeps milliseconds, and about 12 significant decimal digits: it packs a series as decimal mantissas with one
// exponent. Source: VictoriaMetrics documentation, on the precision of stored values (from memory).
func TestVictoriaMetricsGivesBackWhatWasDelivered(t *testing.T) {
	store := publishtest.VictoriaMetrics(t)
	sink := open(t, nil, store.URL())
	if err := sink.Deliver(context.Background(), rows(scenario()...)); err != nil {
		t.Fatalf("Deliver: %v", err)
	}
	compare(t, publishtest.ReadVictoriaMetrics(t, store, series.Measurement), scenario(), time.Millisecond, 1e-12)
}

func TestInfluxDBGivesBackWhatWasDelivered(t *testing.T) {
	store := publishtest.InfluxDB(t, "pressure")
	sink := open(t, nil, store.URL()+"/")
	results := scenario()
	// Two readings a nanosecond apart stay two.
	next := publishtest.Result("r1", "suite-b", 1)
	later := publishtest.Result("r1", "suite-b", 2)
	later.ReceivedAt = next.ReceivedAt.Add(1)
	results = append(results, next, later)
	for range 2 { // a repeat is harmless
		if err := sink.Deliver(context.Background(), rows(results...)); err != nil {
			t.Fatalf("Deliver: %v", err)
		}
	}
	compare(t, publishtest.ReadInfluxDB(t, store, "pressure", series.Measurement), results, 1, 0)

	absent := open(t, func(o *series.Options) { o.Bucket = "no-such-bucket" }, store.URL())
	var e *publish.DeliverError
	if err := absent.Deliver(context.Background(), rows(results...)); !errors.As(err, &e) || e.Class != publish.Configuration {
		t.Errorf("a bucket that is not there: got %v, want class Configuration", err)
	}
}

func TestLargeBatchIsSplit(t *testing.T) {
	store := publishtest.InfluxDB(t, "pressure")
	sink := open(t, nil, store.URL())
	results := publishtest.Series("r1", "suite-a", 1, 2*series.Largest+1)
	if err := sink.Deliver(context.Background(), rows(results...)); err != nil {
		t.Fatalf("Deliver: %v", err)
	}
	seen := map[float64]bool{}
	for _, s := range publishtest.ReadInfluxDB(t, store, "pressure", series.Measurement) {
		if s.Field == "seq" {
			seen[s.Value] = true
		}
	}
	if len(seen) != len(results) {
		t.Errorf("got %d results in the store, want %d", len(seen), len(results))
	}
}

func TestOptionsAreChecked(t *testing.T) {
	for name, opt := range map[string]series.Options{
		"no url":         {Bucket: "b", Site: "s"},
		"other scheme":   {URL: "ftp://host:1", Bucket: "b", Site: "s"},
		"with a query":   {URL: "http://host:1/?a=b", Bucket: "b", Site: "s"},
		"no bucket":      {URL: "http://host:1", Site: "s"},
		"no site":        {URL: "http://host:1", Bucket: "b"},
		"site with tail": {URL: "http://host:1", Bucket: "b", Site: `hall\`},
	} {
		if _, err := series.New(opt); err == nil {
			t.Errorf("%s: got no error, want one", name)
		}
	}
}
