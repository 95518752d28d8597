package series_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

// around are results at offsets from now, a few of each.
func around(offsets ...time.Duration) (out []convert.Result) {
	now := time.Now()
	for i, off := range offsets {
		for n := range 5 {
			r := publishtest.Result("r1", []string{"suite-a", "suite-b"}[n%2], uint64(10*i+n+1))
			r.ReceivedAt = now.Add(off + time.Duration(n)*10*time.Millisecond + 123456)
			out = append(out, r)
		}
	}
	return out
}

// holdMissing holds that the store, asked now, is found to lack exactly these rows. It asks until it has what it should
// have, as a store may take a moment.
func holdMissing(t *testing.T, sink *series.Sink, asked []publish.Row, want []int64) {
	t.Helper()
	var got []int64
	publishtest.Eventually(t, fmt.Sprintf("rows %v are missing, the others there", want), func() bool {
		missing, err := sink.ReadBack(context.Background(), asked)
		if err != nil {
			t.Fatalf("ReadBack: %v", err)
		}
		got = got[:0]
		for _, r := range missing {
			got = append(got, r.ID)
		}
		return slices.Equal(got, want)
	})
}

const day = 24 * time.Hour

// The store answers 204 to what is older than its retention and to what is more than two days in the future, and has
// neither. Source: VictoriaMetrics documentation, "Retention"; the two days from memory, seen in its counter of rows ignored.
func TestVictoriaMetricsDropsAreFound(t *testing.T) {
	store := publishtest.VictoriaMetrics(t, "-retentionPeriod=30d")
	sink := open(t, nil, store.URL())
	batch := rows(around(-time.Hour, -90*day, -time.Minute, 30*day)...)
	if err := sink.Deliver(context.Background(), batch); err != nil {
		t.Fatalf("Deliver: %v, want it acknowledged", err)
	}
	holdMissing(t, sink, batch, []int64{6, 7, 8, 9, 10, 16, 17, 18, 19, 20})
}

// InfluxDB 1 says itself what is beyond its retention: such points are refused, not dropped.
func TestInfluxDBReadsBack(t *testing.T) {
	store := publishtest.InfluxDB(t, "pressure")
	sink := open(t, nil, store.URL())
	batch := rows(around(-time.Hour, -90*day, -time.Minute)...)
	if err := sink.Deliver(context.Background(), batch); err != nil {
		t.Fatalf("Deliver: %v", err)
	}
	never := rows(append(around(-2*time.Hour), around(-time.Hour)...)...)
	for i := range never {
		batch = append(batch, never[i])
		batch[len(batch)-1].ID = int64(len(batch))
	}
	holdMissing(t, sink, batch, []int64{16, 17, 18, 19, 20, 21, 22, 23, 24, 25})
}

// Many rows are asked for by spans of time, with the same answer.
func TestManyRowsReadBack(t *testing.T) {
	for name, store := range map[string]*publishtest.Server{
		"InfluxDB": publishtest.InfluxDB(t, "pressure"), "VictoriaMetrics": publishtest.VictoriaMetrics(t)} {
		t.Run(name, func(t *testing.T) {
			sink := open(t, nil, store.URL())
			batch := rows(publishtest.Series("r1", "suite-a", 1, 5000)...)
			kept := slices.Clone(batch)
			kept = slices.Delete(kept, 3000, 3002)
			if err := sink.Deliver(context.Background(), kept); err != nil {
				t.Fatalf("Deliver: %v", err)
			}
			holdMissing(t, sink, batch, []int64{3001, 3002})
		})
	}
}

// A store that is asked in Flux. No InfluxDB 2 is at hand: the answer is that of its documentation.
// Source: InfluxData, "Annotated CSV".
func TestFluxReadsBack(t *testing.T) {
	batch := rows(publishtest.Series("r1", "suite-a", 1, 2)...)
	stamp := batch[0].ReceivedAt.UTC().Format(time.RFC3339Nano)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/health":
			_, _ = io.WriteString(w, `{"name":"influxdb","message":"ready for queries and writes","status":"pass","version":"v2.7.10"}`)
		case "/api/v2/query":
			script, _ := io.ReadAll(r.Body)
			if r.Method != http.MethodPost || r.Header.Get("Content-Type") != "application/vnd.flux" ||
				r.Header.Get("Authorization") != "Token tok" || r.URL.Query().Get("org") != "lab" {
				t.Errorf("got %s with %v, want a POST of Flux with the token and the organisation", r.Method, r.Header)
			}
			if strings.Contains(string(script), stamp) {
				_, _ = fmt.Fprintf(w, "#datatype,string,long,dateTime:RFC3339,double\r\n#group,false,false,false,false\r\n"+
					"#default,_result,,,\r\n,result,table,_time,_value\r\n,,0,%s,1\r\n\r\n", stamp)
			}
		}
	}))
	defer server.Close()
	holdMissing(t, open(t, func(o *series.Options) { o.Token = "tok" }, server.URL), batch, []int64{2})
}

// What cannot be read is told apart from what does not answer.
func TestStoresThatCannotBeRead(t *testing.T) {
	for _, c := range []struct {
		name   string
		answer func(w http.ResponseWriter, path string)
		class  publish.Class
	}{
		{"another thing", func(w http.ResponseWriter, _ string) { _, _ = io.WriteString(w, "<html>sign in") }, publish.Configuration},
		{"no right to read", func(w http.ResponseWriter, path string) {
			if path == "/health" {
				_, _ = io.WriteString(w, `{"name":"influxdb","version":"1.8.3"}`)
				return
			}
			w.WriteHeader(http.StatusForbidden)
		}, publish.Configuration},
		{"busy", func(w http.ResponseWriter, _ string) { w.WriteHeader(http.StatusServiceUnavailable) }, publish.Transient},
		{"elsewhere", func(w http.ResponseWriter, _ string) { w.Header().Set("Location", "/x"); w.WriteHeader(302) }, publish.Configuration},
	} {
		t.Run(c.name, func(t *testing.T) {
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { c.answer(w, r.URL.Path) }))
			defer server.Close()
			sink := open(t, func(o *series.Options) { o.Token = "s3cret" }, server.URL)
			missing, err := sink.ReadBack(context.Background(), rows(publishtest.Result("r1", "suite-a", 1)))
			var e *publish.DeliverError
			if !errors.As(err, &e) || e.Class != c.class || missing != nil || strings.Contains(err.Error(), "s3cret") {
				t.Errorf("got %v, %v, want an error of class %d without the token", missing, err, c.class)
			}
		})
	}
}
