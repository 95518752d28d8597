package series_test

import (
	"compress/gzip"
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/publishtest"
	"manobridge/publish/series"
)

func deliver(t *testing.T, sink *series.Sink, results ...convert.Result) *publish.DeliverError {
	t.Helper()
	err := sink.Deliver(context.Background(), rows(results...))
	if err == nil {
		return nil
	}
	var e *publish.DeliverError
	if !errors.As(err, &e) {
		t.Fatalf("got %T %v, want a *publish.DeliverError", err, err)
	}
	return e
}

// What each answer means. Status codes: RFC 9110; 429: RFC 6585.
func TestAnswers(t *testing.T) {
	soon := time.Now().Add(90 * time.Second).UTC().Format(http.TimeFormat)
	for _, c := range []struct {
		name        string
		status      int
		header      map[string]string
		body        string
		class       publish.Class
		least, most time.Duration
		says        string
	}{
		{name: "login page", status: 200, header: map[string]string{"Content-Type": "text/html"}, body: "<html>sign in", class: publish.Configuration, says: "200 OK (text/html)"},
		{name: "created", status: 201, class: publish.Configuration, says: "204"},
		{name: "moved", status: 301, header: map[string]string{"Location": "/elsewhere"}, class: publish.Configuration, says: "to /elsewhere"},
		{name: "moved, method kept", status: 307, header: map[string]string{"Location": "/elsewhere"}, class: publish.Configuration, says: "to /elsewhere"},
		{name: "bad request", status: 400, header: map[string]string{"Content-Type": "application/json"}, body: `{"code":"invalid","message":"field type conflict"}`, class: publish.Content, says: "field type conflict"},
		{name: "no token", status: 401, class: publish.Configuration},
		{name: "wrong token", status: 403, class: publish.Configuration},
		{name: "no bucket", status: 404, class: publish.Configuration},
		{name: "method", status: 405, class: publish.Configuration},
		{name: "time-out", status: 408, class: publish.Transient},
		{name: "too large", status: 413, class: publish.Content},
		{name: "cannot process", status: 422, class: publish.Content},
		{name: "too many, seconds", status: 429, header: map[string]string{"Retry-After": "7"}, class: publish.Transient, least: 7 * time.Second, most: 7 * time.Second},
		{name: "unavailable, date", status: 503, header: map[string]string{"Retry-After": soon}, class: publish.Transient, least: 60 * time.Second, most: 90 * time.Second},
		{name: "unavailable, rubbish", status: 503, header: map[string]string{"Retry-After": "soon"}, class: publish.Transient},
		{name: "broken", status: 500, body: strings.Repeat("x", 1<<20), class: publish.Transient},
		{name: "broken JSON", status: 400, header: map[string]string{"Content-Type": "application/json"}, body: "{", class: publish.Content},
	} {
		t.Run(c.name, func(t *testing.T) {
			var asked atomic.Int64
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				asked.Add(1)
				_, _ = io.Copy(io.Discard, r.Body)
				for k, v := range c.header {
					w.Header().Set(k, v)
				}
				w.WriteHeader(c.status)
				_, _ = io.WriteString(w, c.body)
			}))
			defer server.Close()
			sink := open(t, func(o *series.Options) { o.Token = "s3cret-token" }, server.URL)
			e := deliver(t, sink, publishtest.Result("r1", "suite-a", 1))
			switch {
			case e == nil:
				t.Fatal("got success, want an error")
			case e.Class != c.class || e.Acked != 0 || e.Code == "":
				t.Errorf("got class %d, code %q, %d acknowledged, want class %d, a code, 0", e.Class, e.Code, e.Acked, c.class)
			case e.After < c.least || e.After > c.most:
				t.Errorf("got a pause of %v, want %v to %v", e.After, c.least, c.most)
			case !strings.Contains(e.Error(), c.says):
				t.Errorf("got %q, want it to say %q", e.Error(), c.says)
			case strings.Contains(e.Error(), "s3cret"):
				t.Errorf("got %q, want no token in it", e.Error())
			case len(e.Error()) > 100<<10:
				t.Errorf("got a message of %d bytes, want it bounded", len(e.Error()))
			}
			if n := asked.Load(); n != 1 {
				t.Errorf("got %d requests, want 1: neither a retry nor a redirect is followed", n)
			}
		})
	}
}

// What goes over the line: one compressed POST with the token, nanoseconds, and every field a float.
func TestRequest(t *testing.T) {
	var line, query, token string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Errorf("body: %v, want gzip", err)
			return
		}
		b, _ := io.ReadAll(z)
		line, query, token = string(b), r.Method+" "+r.URL.Path+" "+r.URL.Query().Encode(), r.Header.Get("Authorization")
		w.WriteHeader(http.StatusNoContent)
	}))
	defer server.Close()
	r := publishtest.Refused("r1", "suite-a", 3)
	r.ReceivedAt = time.Unix(1772352000, 123456789)
	if e := deliver(t, open(t, func(o *series.Options) { o.Token = "tok" }, server.URL+"/store/"), r); e != nil {
		t.Fatalf("got %v, want success", e)
	}
	// Line protocol: measurement, tags, fields, time. Source: InfluxData, line protocol reference. 2150694912 is
	// 0x80310000, BadNoCommunication of OPC UA.
	if want := "manometer,instrument=suite-a,site=hall-3 seq=3,status_code=2150694912 1772352000123456789\n"; line != want {
		t.Errorf("got line %q, want %q", line, want)
	}
	if want := "POST /store/api/v2/write bucket=pressure&org=lab&precision=ns"; query != want || token != "Token tok" {
		t.Errorf("got %q with %q, want %q with the token", query, token, want)
	}
}

func TestAcknowledgedPartsCount(t *testing.T) {
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		if asked.Add(1) > 1 {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	defer server.Close()
	e := deliver(t, open(t, nil, server.URL), publishtest.Series("r1", "suite-a", 1, series.Largest+5)...)
	if e == nil || e.Acked != series.Largest || e.Class != publish.Transient {
		t.Errorf("got %+v, want %d acknowledged and Transient", e, series.Largest)
	}
}

func TestUnreachableIsTransient(t *testing.T) {
	refused := open(t, nil, "http://"+publishtest.FreeAddr(t))
	if e := deliver(t, refused, publishtest.Series("r1", "suite-a", 1, 3000)...); e == nil || e.Class != publish.Transient {
		t.Errorf("refused port: got %v, want Transient", e)
	}

	// A server that takes the request and never answers.
	proxy := publishtest.NewProxy(t, publishtest.FreeAddr(t))
	hold := make(chan struct{})
	silent := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		<-hold
	}))
	defer silent.Close()
	defer close(hold)
	for name, at := range map[string]string{"hangs up": "http://" + proxy.Addr, "silent": silent.URL} {
		sink := open(t, func(o *series.Options) { o.Timeout = 200 * time.Millisecond }, at)
		if e := deliver(t, sink, publishtest.Series("r1", "suite-a", 1, 3000)...); e == nil || e.Class != publish.Transient {
			t.Errorf("%s: got %v, want Transient", name, e)
		}
	}
}

func TestResultThatCannotBeAPointIsContent(t *testing.T) {
	sink := open(t, nil, "http://"+publishtest.FreeAddr(t))
	timeless := publishtest.Result("r1", "suite-a", 1)
	timeless.ReceivedAt = time.Time{}
	for name, r := range map[string]convert.Result{"no time": timeless, "backslash": publishtest.Result("r1", `suite\`, 1)} {
		if e := deliver(t, sink, r); e == nil || e.Class != publish.Content {
			t.Errorf("%s: got %v, want Content", name, e)
		}
	}
}
