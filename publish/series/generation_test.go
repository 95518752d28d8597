package series_test

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"math"
	"net/http"
	"net/url"
	"testing"

	"manobridge/convert"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

// A result that was computed again stands beside the first one, under the same time, and does not take its place.
func TestAGenerationStandsBesideTheFirstResults(t *testing.T) {
	store := publishtest.VictoriaMetrics(t)
	first := scenario()[0]
	again := first
	again.Differential *= 0.9
	if first.Kind != convert.DifferentialValue {
		t.Fatalf("got kind %v, want a differential pressure to begin with", first.Kind)
	}
	if err := open(t, nil, store.URL()).Deliver(context.Background(), rows(first)); err != nil {
		t.Fatal(err)
	}
	g, err := series.NewGeneration(series.Options{URL: store.URL(), Bucket: "pressure", Site: "hall-3"}, "march")
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	if err := g.Deliver(context.Background(), rows(again)); err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, path := range []string{"/internal/force_flush", "/api/v1/export?" + url.Values{"match[]": {"manometer_differential_pressure_pa"}, "start": {"0"}}.Encode()} {
		answer, err := http.Get(store.URL() + path)
		if err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(answer.Body)
		for lines.Scan() {
			var line struct {
				Metric map[string]string
				Values []float64
			}
			if json.Unmarshal(lines.Bytes(), &line) == nil && len(line.Values) == 1 {
				got[line.Metric["generation"]] = line.Values[0]
			}
		}
		if _, err := io.Copy(io.Discard, answer.Body); err != nil {
			t.Fatal(err)
		}
		if err := answer.Body.Close(); err != nil {
			t.Fatal(err)
		}
	}
	http.DefaultClient.CloseIdleConnections()
	for tag, want := range map[string]float64{"": float64(first.Differential), "march": float64(again.Differential)} {
		if v, ok := got[tag]; !ok || math.Abs(v-want) > 1e-9*math.Abs(want) {
			t.Errorf("generation %q: got %v, want %v Pa", tag, got, want)
		}
	}
	if _, err := series.NewGeneration(series.Options{URL: store.URL(), Bucket: "pressure", Site: "hall-3"}, "two words"); err == nil {
		t.Error("got a sink for a tag with a blank, want it refused")
	}
}
