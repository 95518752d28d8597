package operate_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/cmd/manobridge/operate"
	"manobridge/configs"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

const secret = "a-password-nobody-may-see"

// running is a bridge with one instrument on a pseudo-terminal, and its page.
func running(t *testing.T, publish string) (*bridge.Bridge, *ingesttest.Line, *httptest.Server) {
	t.Helper()
	line := ingesttest.NewLine(t)
	c, err := configs.Parse("bench.yaml", []byte(fmt.Sprintf(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
ports:
  rack-a:
    device: %q
    baud: 9600
    frame: {format: delimited, separator: ",", fields: [address, low_mm, temperature_c]}
    silence: 1h
instruments:
  bank-1:
    port: rack-a
    address: "02"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
%s
journal: {path: %q}
`, line.Path, publish, filepath.Join(t.TempDir(), "manobridge.db"))), configs.Options{
		ReadFile: func(string) ([]byte, error) { return []byte(secret), nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bridge.Open(t.Context(), bridge.Options{Config: c, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- b.Run(ctx) }()
	handler, err := operate.Handler(b)
	if err != nil {
		t.Fatal(err)
	}
	page := httptest.NewServer(handler)
	t.Cleanup(func() {
		page.Close()
		stop()
		if err := <-ended; err != nil {
			t.Errorf("got %v at the stop, want nil", err)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b, line, page
}

func get(t *testing.T, url, accept string) (int, []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", accept)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, body
}

// scrape reads the figures with the parser of another project.
func scrape(t *testing.T, page *httptest.Server) map[string]float64 {
	t.Helper()
	_, body := get(t, page.URL+"/metrics", "text/plain")
	parser := expfmt.NewTextParser(model.LegacyValidation)
	families, err := parser.TextToMetricFamilies(bytes.NewReader(body))
	if err != nil {
		t.Fatalf("the scrape cannot be parsed: %v", err)
	}
	values := map[string]float64{}
	for name, f := range families {
		for _, m := range f.GetMetric() {
			var labels []string
			for _, l := range m.GetLabel() {
				labels = append(labels, l.GetName()+"="+l.GetValue())
			}
			values[strings.TrimSuffix(name+"{"+strings.Join(labels, ",")+"}", "{}")] = value(f, m)
		}
	}
	return values
}

func value(f *dto.MetricFamily, m *dto.Metric) float64 {
	if f.GetType() == dto.MetricType_COUNTER {
		return m.GetCounter().GetValue()
	}
	return m.GetGauge().GetValue()
}

// The figures are those of frames that the test wrote and a broker it counts at.
func TestFigures(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	b, line, page := running(t, fmt.Sprintf("publish:\n  mqtt: {url: \"tcp://%s\", username: bench, password_file: secret}", broker.Addr))
	publishtest.Eventually(t, "the port", func() bool { return scrape(t, page)["manobridge_port_open{port=rack-a}"] == 1 })
	sent := "\n" // ends what may have come before
	line.Send(sent)
	send := func(text string, times int) {
		for range times {
			line.Send(text)
			sent += text
		}
	}
	send("02,40.00,21.0\n", 30) // good
	send("02,forty,21.0\n", 4)  // no number
	send("02,299.00,99.0\n", 2) // decoded, whatever the converter says
	send("99,40.00,21.0\n", 3)  // nobody's
	const readings = 30 + 4 + 2
	subscriber.WaitCount(t, readings)
	publishtest.Eventually(t, "the cursor", func() bool {
		return scrape(t, page)["manobridge_sink_delivered_rows_total{lane=live,sink=mqtt}"] == readings
	})
	got := scrape(t, page)
	n := b.Counts()
	for name, want := range map[string]float64{
		"manobridge_port_received_bytes_total{port=rack-a}":                          float64(len(sent)),
		"manobridge_port_frames_total{port=rack-a}":                                  readings + 3,
		"manobridge_port_good_frames_total{port=rack-a}":                             32,
		"manobridge_port_refused_readings_total{cause=frame-number,port=rack-a}":     4,
		"manobridge_port_unattributed_frames_total{cause=frame-address,port=rack-a}": 3,
		"manobridge_port_opens_total{port=rack-a}":                                   1,
		"manobridge_port_losses_total{port=rack-a}":                                  0,
		"manobridge_instrument_readings_total{instrument=bank-1}":                    readings,
		"manobridge_results_total{status=good}":                                      float64(n.Good),
		"manobridge_results_total{status=uncertain}":                                 float64(n.Uncertain),
		"manobridge_results_total{status=bad}":                                       float64(n.Bad),
		"manobridge_journal_rows_total":                                              readings,
		"manobridge_journal_last_row":                                                readings,
		"manobridge_journal_held_rows":                                               0,
		"manobridge_journal_lost_results_total":                                      0,
		"manobridge_journal_writable":                                                1,
		"manobridge_sink_up{sink=mqtt}":                                              1,
		"manobridge_sink_lag_rows{lane=live,sink=mqtt}":                              0,
		"manobridge_sink_lag_rows{lane=late,sink=mqtt}":                              0,
		"manobridge_sink_lag_seconds{lane=live,sink=mqtt}":                           0,
		"manobridge_sink_quarantined_rows_total{sink=mqtt}":                          0,
		"manobridge_sink_suspect_losses_total{sink=mqtt}":                            0,
	} {
		if v, ok := got[name]; !ok || v != want {
			t.Errorf("%s: got %v (%v), want %v", name, v, ok, want)
		}
	}
	if n.Good+n.Uncertain+n.Bad != readings || n.Bad < 4 {
		t.Errorf("got %+v results, want %d, the 4 refused ones bad", n, readings)
	}
	if age := got["manobridge_instrument_last_good_age_seconds{instrument=bank-1}"]; age <= 0 || age > 60 {
		t.Errorf("got the last good reading %v s old, want a moment", age)
	}
	if left := got["manobridge_journal_disk_available_bytes"]; left < 1<<20 {
		t.Errorf("got %v bytes left on the disk, want more than what this test writes", left)
	}
	broker.Stop()
	send("02,41.00,21.0\n", 5)
	publishtest.Eventually(t, "what waits", func() bool {
		got := scrape(t, page)
		return got["manobridge_sink_lag_rows{lane=live,sink=mqtt}"]+got["manobridge_sink_lag_rows{lane=late,sink=mqtt}"] == 5 &&
			got["manobridge_sink_up{sink=mqtt}"] == 0 && got["manobridge_sink_outages_total{sink=mqtt}"] >= 1 &&
			got["manobridge_sink_lag_seconds{lane=live,sink=mqtt}"]+got["manobridge_sink_lag_seconds{lane=late,sink=mqtt}"] > 0
	})
	_, text := get(t, page.URL+"/metrics", "application/openmetrics-text; version=1.0.0")
	if !bytes.HasSuffix(text, []byte("# EOF\n")) { // OpenMetrics 1.0, overall structure
		t.Errorf("got %q at the end, want # EOF", text[max(0, len(text)-40):])
	}
	status, body := get(t, page.URL+"/healthz", "")
	var h operate.Health
	if err := json.Unmarshal(body, &h); err != nil || status != http.StatusOK || h.Status != "ok" || h.Run != b.RunID() {
		t.Errorf("got %d %s (%v), want 200 while only the broker is away", status, body, err)
	}
	for what, shown := range map[string][]byte{"metrics": text, "health": body} {
		if bytes.Contains(shown, []byte(secret)) {
			t.Errorf("%s show the password", what)
		}
	}
}

// Scrapes while readings flow, ports and sinks being replaced by reloads: for the race detector.
func TestScrapesUnderLoad(t *testing.T) {
	b, line, page := running(t, "")
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case <-tick.C:
				if _, err := fmt.Fprint(line.Master(), "02,40.00,21.0\n"); err != nil {
					t.Error(err)
					return
				}
			}
		}
	})
	wg.Go(func() {
		for i := range 5 {
			next := *b.Config()
			next.Instruments = append([]configs.Instrument(nil), next.Instruments...)
			slope := 11.5 + float64(i)/100
			next.Instruments[0].Geometry.SlopeDeg = &slope
			if err := b.Reload(t.Context(), &next); err != nil {
				t.Errorf("reload: %v", err)
			}
		}
	})
	for range 40 {
		scrape(t, page)
		if status, body := get(t, page.URL+"/healthz", ""); status != http.StatusOK {
			t.Errorf("got %d %s, want 200", status, body)
		}
	}
	close(stop)
	wg.Wait()
}
