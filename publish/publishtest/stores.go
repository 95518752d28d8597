package publishtest

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"
)

// Sample is one stored number as the store itself gives it back.
type Sample struct {
	Time       time.Time
	Site       string
	Instrument string
	Field      string
	Value      float64
}

var client = &http.Client{Timeout: Patience, Transport: &http.Transport{DisableKeepAlives: true}}

func fetch(method, url string) ([]byte, error) {
	req, err := http.NewRequest(method, url, nil)
	if err != nil {
		return nil, err
	}
	resp, err := client.Do(req)
	if err != nil {
		return nil, err
	}
	defer func() { _ = resp.Body.Close() }()
	body, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode >= 300 {
		err = fmt.Errorf("%s: %s", resp.Status, body)
	}
	return body, err
}

// ReadVictoriaMetrics gives every sample of one measurement. The store keeps milliseconds only.
func ReadVictoriaMetrics(t testing.TB, s *Server, measurement string) []Sample {
	t.Helper()
	if _, err := fetch(http.MethodGet, s.URL()+"/internal/force_flush"); err != nil {
		t.Fatalf("flush the store: %v", err)
	}
	match := url.Values{"match[]": {`{__name__=~"` + measurement + `_.*"}`}}
	// Given as Unix seconds, as the default is the last minutes only.
	match.Set("start", "0")
	match.Set("end", fmt.Sprint(time.Now().AddDate(2, 0, 0).Unix()))
	body, err := fetch(http.MethodGet, s.URL()+"/api/v1/export?"+match.Encode())
	if err != nil {
		t.Fatalf("export from the store: %v", err)
	}
	var out []Sample
	lines := bufio.NewScanner(bytes.NewReader(body))
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		var series struct {
			Metric     map[string]string `json:"metric"`
			Values     []float64         `json:"values"`
			Timestamps []int64           `json:"timestamps"`
		}
		if err := json.Unmarshal(lines.Bytes(), &series); err != nil || len(series.Values) != len(series.Timestamps) {
			t.Fatalf("read the store's export: %v in %q", err, lines.Text())
		}
		field := series.Metric["__name__"][len(measurement)+1:]
		for i, v := range series.Values {
			out = append(out, Sample{Time: time.UnixMilli(series.Timestamps[i]).UTC(), Site: series.Metric["site"],
				Instrument: series.Metric["instrument"], Field: field, Value: v})
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatalf("read the store's export: %v", err)
	}
	return out
}

// ReadInfluxDB gives every sample of one measurement of a database, with its nanoseconds.
func ReadInfluxDB(t testing.TB, s *Server, database, measurement string) []Sample {
	t.Helper()
	columns, values := influxQuery(t, s.URL(), database, `SELECT * FROM "`+measurement+`"`)
	var out []Sample
	for _, row := range values {
		var sample Sample
		for i, column := range columns {
			switch v := row[i].(type) {
			case string:
				switch column {
				case "site":
					sample.Site = v
				case "instrument":
					sample.Instrument = v
				}
			case json.Number:
				if column == "time" {
					ns, err := v.Int64()
					if err != nil {
						t.Fatalf("read the time %q from the store: %v", v, err)
					}
					sample.Time = time.Unix(0, ns).UTC()
				}
			}
		}
		for i, column := range columns {
			if v, ok := row[i].(json.Number); ok && column != "time" {
				f, err := v.Float64()
				if err != nil {
					t.Fatalf("read %s %q from the store: %v", column, v, err)
				}
				field := sample
				field.Field, field.Value = column, f
				out = append(out, field)
			}
		}
	}
	return out
}

// CountInfluxDB counts the points of one measurement that have the field.
func CountInfluxDB(t testing.TB, s *Server, database, measurement, field string) int {
	t.Helper()
	columns, values := influxQuery(t, s.URL(), database, fmt.Sprintf("SELECT count(%q) FROM %q", field, measurement))
	if len(values) == 0 {
		return 0
	}
	n, err := values[0][slices.Index(columns, "count")].(json.Number).Int64()
	if err != nil {
		t.Fatalf("count in the store: %v", err)
	}
	return int(n)
}

func influxQuery(t testing.TB, base, database, query string) (columns []string, values [][]any) {
	t.Helper()
	method := http.MethodPost
	if database != "" {
		method = http.MethodGet
	}
	body, err := fetch(method, base+"/query?"+url.Values{"db": {database}, "q": {query}, "epoch": {"ns"}}.Encode())
	if err != nil {
		t.Fatalf("ask the store %q: %v", query, err)
	}
	var answer struct {
		Results []struct {
			Error  string `json:"error"`
			Series []struct {
				Columns []string `json:"columns"`
				Values  [][]any  `json:"values"`
			} `json:"series"`
		} `json:"results"`
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.UseNumber()
	if err := d.Decode(&answer); err != nil || len(answer.Results) != 1 || answer.Results[0].Error != "" {
		t.Fatalf("ask the store %q: %v, answer %s", query, err, body)
	}
	for _, series := range answer.Results[0].Series {
		columns, values = series.Columns, append(values, series.Values...)
	}
	return columns, values
}
