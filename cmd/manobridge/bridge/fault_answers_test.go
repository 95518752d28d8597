package bridge_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// passing is what stands before a store: it passes every request that it does not answer itself.
func passing(t *testing.T, store string, answers func(w http.ResponseWriter, r *http.Request) bool) http.Handler {
	t.Helper()
	at, err := url.Parse(store)
	if err != nil {
		t.Fatal(err)
	}
	pass := httputil.NewSingleHostReverseProxy(at)
	transport := &http.Transport{}
	pass.Transport = transport
	t.Cleanup(transport.CloseIdleConnections)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !answers(w, r) {
			pass.ServeHTTP(w, r)
		}
	})
}

// Something before the store answers 500, asks for a pause with 429, and drops what it acknowledges with 204. Afterwards
// everything is in the store: the drop is found, and what was dropped is sent again.
func TestAnswersThatAreNoAcknowledgement(t *testing.T) {
	ledger := publishtest.NewLedger(t, "series")
	store := publishtest.InfluxDB(t, "pressure")
	var answer, writes atomic.Int64 // 0: pass
	front := httptest.NewServer(passing(t, store.URL(), func(w http.ResponseWriter, r *http.Request) bool {
		status := int(answer.Load())
		if r.URL.Path != "/api/v2/write" || status == 0 {
			return false
		}
		writes.Add(1)
		w.Header().Set("Retry-After", "1")
		w.WriteHeader(status)
		return true
	}))
	t.Cleanup(front.Close)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  series: {url: %q, bucket: pressure, read_back: 3s}`, front.URL)))
	opened(t, x, line)
	sent, halt := flow(t, line, 20*time.Millisecond)
	for _, status := range []int64{500, 429, 204} {
		before := writes.Load()
		answer.Store(status)
		eventually(t, fmt.Sprintf("a write that is answered %d", status), func() bool { return writes.Load() > before })
		if status == 204 {
			eventually(t, "the drop found", func() bool { return strings.Contains(x.log.String(), "code=row-dropped ") })
		}
		answer.Store(0)
	}
	halt()
	eventually(t, "what was dropped is there", func() bool { return strings.Contains(x.log.String(), "code=row-dropped-repaired ") })
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	eventually(t, "everything delivered", settled(x))
	x.end()
	kept := goodRows(t, path)
	if int64(len(kept)) != sent.Load() {
		t.Errorf("got %d good results in the journal, want %d, one of each frame", len(kept), sent.Load())
	}
	samples := publishtest.ReadInfluxDB(t, store, "pressure", "manometer")
	holdSamples(t, samples, kept, 0)
	holdAll(t, ledger, path, far{stored: samples, resolution: 1})
}
