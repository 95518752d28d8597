package operate

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"manobridge/cmd/manobridge/bridge"
)

// The bounds of the page. Connections are few because a serial library cannot read descriptors from 1024 up.
const (
	mostConnections = 16
	headerWithin    = 5 * time.Second
	answerWithin    = 20 * time.Second
	closeWithin     = 2 * time.Second
	// loopWithin is how long the loop may take to go round and still count as healthy. It goes round each second.
	loopWithin = 10 * time.Second
)

// Page answers /healthz and /metrics over HTTP, to read only. Neither shows a secret.
type Page struct {
	log    *slog.Logger
	server *http.Server
	ended  chan struct{}
}

// OpenPage listens and answers until Close. Where it cannot listen that is said, and the bridge works without: nil.
func OpenPage(address string, b *bridge.Bridge, log *slog.Logger) *Page {
	if address == "" {
		return nil
	}
	handler, err := Handler(b)
	var l net.Listener
	if err == nil {
		l, err = net.Listen("tcp", address)
	}
	if err != nil {
		log.Error("health and metrics cannot be served; readings are not touched; check operate.listen, and what else listens there",
			"code", "operate-listen", "address", address, "reason", err.Error())
		return nil
	}
	p := &Page{log: log, ended: make(chan struct{}), server: &http.Server{
		Handler: handler, ReadHeaderTimeout: headerWithin, ReadTimeout: headerWithin, WriteTimeout: answerWithin, IdleTimeout: time.Minute,
		MaxHeaderBytes: 16 << 10, ErrorLog: slog.NewLogLogger(log.With("code", "operate-listen").Handler(), slog.LevelDebug),
	}}
	go func() {
		defer close(p.ended)
		if err := p.server.Serve(&fewConnections{Listener: l, places: make(chan struct{}, mostConnections)}); !errors.Is(err, http.ErrServerClosed) {
			log.Error("health and metrics are no longer served; readings are not touched", "code", "operate-listen", "address", address, "reason", err.Error())
		}
	}()
	return p
}

// Close ends the page. A nil page is closed.
func (p *Page) Close() {
	if p == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), closeWithin)
	defer cancel()
	if p.server.Shutdown(ctx) != nil {
		_ = p.server.Close() // whoever still reads is cut off
	}
	<-p.ended
}

// Handler answers for a bridge.
func Handler(b *bridge.Bridge) (http.Handler, error) {
	r, err := NewRegistry(b)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(r, promhttp.HandlerOpts{EnableOpenMetrics: true, MaxRequestsInFlight: 4, Timeout: answerWithin / 2}))
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { health(w, b) })
	return mux, nil
}

// Health is the answer of /healthz.
type Health struct {
	Status  string   `json:"status"` // ok, failing
	Reasons []string `json:"reasons,omitempty"`
	Run     string   `json:"run"`
	Version string   `json:"version"`
	Summary string   `json:"summary"`
}

func health(w http.ResponseWriter, b *bridge.Bridge) {
	h := Health{Status: "ok", Reasons: b.Ailments(loopWithin), Run: b.RunID(), Version: bridge.Version(), Summary: b.Status()}
	status := http.StatusOK
	if len(h.Reasons) > 0 {
		h.Status, status = "failing", http.StatusServiceUnavailable
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(h) // who asked has gone
}

// fewConnections bounds how many are open at once; more wait in the system's queue.
type fewConnections struct {
	net.Listener
	places chan struct{}
}

// Accept waits for a place first.
func (f *fewConnections) Accept() (net.Conn, error) {
	f.places <- struct{}{}
	c, err := f.Listener.Accept()
	if err != nil {
		<-f.places
		return nil, err
	}
	return &placed{Conn: c, leave: sync.OnceFunc(func() { <-f.places })}, nil
}

type placed struct {
	net.Conn
	leave func()
}

// Close gives the place back.
func (p *placed) Close() error {
	p.leave()
	return p.Conn.Close()
}
