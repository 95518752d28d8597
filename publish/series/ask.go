package series

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// question asks for the points of one instrument from one time to another, both included, in ns since 1970.
type question func(ctx context.Context, instrument string, from, until int64) ([]at, error)

// longestReading bounds one answer to a question, in bytes.
const longestReading = 16 << 20

// reader gives how this store is asked.
func (s *Sink) reader(ctx context.Context) (question, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.ask != nil {
		return s.ask, nil
	}
	body, err := s.get(ctx, http.MethodGet, "/health", nil, "", nil)
	if err != nil {
		return nil, err
	}
	var health struct{ Name, Version string }
	switch err := json.Unmarshal(body, &health); {
	case err == nil && health.Name == "influxdb" && strings.HasPrefix(strings.TrimPrefix(health.Version, "v"), "2."):
		s.ask = s.flux
	case err == nil && health.Name == "influxdb": // one that somebody has built says no version
		s.ask = s.influxQL
	case strings.TrimSpace(string(body)) == "OK":
		s.ask = s.export
	default:
		return nil, fmt.Errorf("%w: /health says %.100q, which is neither InfluxDB 1 or 2 nor VictoriaMetrics", errNoReading, body)
	}
	return s.ask, nil
}

// get makes one request and gives the body of the answer, which must be 200.
func (s *Sink) get(ctx context.Context, method, path string, query url.Values, kind string, send []byte) ([]byte, error) {
	at := s.readURL + path
	if len(query) > 0 {
		at += "?" + query.Encode()
	}
	req, err := http.NewRequestWithContext(ctx, method, at, bytes.NewReader(send))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoReading, err)
	}
	if s.authorization != "" {
		req.Header.Set("Authorization", s.authorization)
	}
	if kind != "" {
		req.Header.Set("Content-Type", kind)
	}
	resp, err := s.reading.Do(req)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // without the url, which holds the whole question
		}
		return nil, err
	}
	defer func() { _ = resp.Body.Close() }()
	body, err := io.ReadAll(io.LimitReader(resp.Body, longestReading+1))
	switch {
	case err != nil:
		return nil, err
	case resp.StatusCode != http.StatusOK:
		return nil, refused(resp, body)
	case len(body) > longestReading:
		return nil, fmt.Errorf("the answer is longer than %d bytes", longestReading)
	}
	return body, nil
}

// influxQL asks InfluxDB 1. A bucket is a database there, or a database and a retention policy with a slash between.
// Source: InfluxData, InfluxDB 1.8 documentation, "InfluxDB API reference", /query and /api/v2/write.
func (s *Sink) influxQL(ctx context.Context, instrument string, from, until int64) ([]at, error) {
	db, policy, _ := strings.Cut(s.bucket, "/")
	q := url.Values{"db": {db}, "epoch": {"ns"}, "q": {fmt.Sprintf(
		`SELECT "seq" FROM %q WHERE "site" = '%s' AND "instrument" = '%s' AND time >= %d AND time <= %d`,
		Measurement, s.site, instrument, from, until)}}
	if policy != "" {
		q.Set("rp", policy)
	}
	body, err := s.get(ctx, http.MethodGet, "/query", q, "", nil)
	if err != nil {
		return nil, err
	}
	var answer struct {
		Results []struct {
			Error  string
			Series []struct{ Values [][]json.Number }
		}
	}
	if err := json.Unmarshal(body, &answer); err != nil {
		return nil, fmt.Errorf("%w: read the answer: %w", errNoReading, err)
	}
	var out []at
	for _, r := range answer.Results {
		if r.Error != "" {
			return nil, fmt.Errorf("%w: %s", errNoReading, r.Error)
		}
		for _, series := range r.Series {
			for _, v := range series.Values {
				if len(v) != 2 {
					return nil, fmt.Errorf("%w: got a row of %d columns, want time and seq", errNoReading, len(v))
				}
				ns, err := v[0].Int64()
				seq, err2 := v[1].Float64()
				if err := errors.Join(err, err2); err != nil {
					return nil, fmt.Errorf("%w: read the answer: %w", errNoReading, err)
				}
				out = append(out, at{ns, uint64(seq)})
			}
		}
	}
	return out, nil
}

// export asks VictoriaMetrics, whose times are whole milliseconds.
// Source: VictoriaMetrics documentation, "How to export data in JSON line format".
func (s *Sink) export(ctx context.Context, instrument string, from, until int64) ([]at, error) {
	seconds := func(ms int64) string { return strconv.FormatFloat(float64(ms)/1e3, 'f', 3, 64) }
	q := url.Values{
		"match[]": {fmt.Sprintf(`{__name__="%s_seq",site="%s",instrument="%s"}`, Measurement, s.site, instrument)},
		"start":   {seconds(from / 1e6)}, "end": {seconds(until / 1e6)},
	}
	body, err := s.get(ctx, http.MethodGet, "/api/v1/export", q, "", nil)
	if err != nil {
		return nil, err
	}
	var out []at
	for lines := json.NewDecoder(bytes.NewReader(body)); ; {
		var line struct {
			Values     []float64
			Timestamps []int64
		}
		switch err := lines.Decode(&line); {
		case errors.Is(err, io.EOF):
			return out, nil
		case err != nil || len(line.Values) != len(line.Timestamps):
			return nil, fmt.Errorf("%w: read the answer: %v", errNoReading, err)
		}
		for i, v := range line.Values {
			out = append(out, at{line.Timestamps[i] * 1e6, uint64(v)})
		}
	}
}

// flux asks InfluxDB 2. Source: InfluxData, InfluxDB OSS v2 documentation, "Query data", and "Annotated CSV".
func (s *Sink) flux(ctx context.Context, instrument string, from, until int64) ([]at, error) {
	stamp := func(ns int64) string { return time.Unix(0, ns).UTC().Format(time.RFC3339Nano) }
	script := fmt.Sprintf(`from(bucket: %q) |> range(start: %s, stop: %s)
 |> filter(fn: (r) => r._measurement == %q and r._field == "seq" and r.site == %q and r.instrument == %q)
 |> keep(columns: ["_time", "_value"])`, s.bucket, stamp(from), stamp(until+1), Measurement, s.site, instrument)
	body, err := s.get(ctx, http.MethodPost, "/api/v2/query", url.Values{"org": {s.org}}, "application/vnd.flux", []byte(script))
	if err != nil {
		return nil, err
	}
	table := csv.NewReader(bytes.NewReader(body))
	table.Comment, table.FieldsPerRecord = '#', -1
	records, err := table.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%w: read the answer: %w", errNoReading, err)
	}
	var out []at
	timeAt, valueAt := -1, -1
	for _, r := range records {
		if i, j := slices.Index(r, "_time"), slices.Index(r, "_value"); i >= 0 && j >= 0 { // each table begins with its header
			timeAt, valueAt = i, j
			continue
		}
		if slices.Index(r, "error") >= 0 || timeAt < 0 || len(r) <= max(timeAt, valueAt) {
			return nil, fmt.Errorf("%w: got the row %.200q, want a time and a value", errNoReading, r)
		}
		when, err := time.Parse(time.RFC3339Nano, r[timeAt])
		seq, err2 := strconv.ParseFloat(r[valueAt], 64)
		if err := errors.Join(err, err2); err != nil {
			return nil, fmt.Errorf("%w: read the answer: %w", errNoReading, err)
		}
		out = append(out, at{when.UnixNano(), uint64(seq)})
	}
	return out, nil
}
