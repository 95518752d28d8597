package speed

import (
	"context"
	"log/slog"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// stock makes a journal of an earlier run with n rows: none delivered to the sinks named. Where none is named, all are.
func (h *hall) stock(b *testing.B, x *load, n int, waiting ...string) (perSecond float64) {
	b.Helper()
	ctx := context.Background()
	started := time.Now().Add(-24 * time.Hour)
	j, err := journal.Open(ctx, journal.Options{Path: h.journal, Durability: "strict", Run: "earlier", Bridge: "bench-pc", Started: started,
		Logger: slog.New(slog.DiscardHandler), Sinks: []string{"mqtt", "series"}})
	if err != nil {
		b.Fatal(err)
	}
	const group = 500
	batch := x.results[:min(group, len(x.results))]
	began := time.Now()
	var seq uint64
	for done := 0; done < n; done += len(batch) {
		for i := range batch {
			seq++
			r := &batch[i]
			r.Run, r.Seq, r.SinceStart = "earlier", seq, time.Duration(seq)*5*time.Millisecond
			r.ReceivedAt = started.Add(r.SinceStart)
		}
		if err := j.Append(ctx, batch); err != nil {
			b.Fatal(err)
		}
	}
	took := time.Since(began)
	for _, sink := range []string{"mqtt", "series"} {
		at := j.Last()
		for _, name := range waiting {
			if name == sink {
				at = 0
			}
		}
		if err := j.SaveCursor(ctx, sink, publish.Cursor{Live: at}); err != nil {
			b.Fatal(err)
		}
	}
	if err := j.Close(); err != nil {
		b.Fatal(err)
	}
	return float64(n) / took.Seconds()
}

// backlogRows is how many rows wait.
const backlogRows = 1_000_000

// A backlog of 10⁶ rows is delivered, its bound lifted as far as the configuration allows, while 100 readings a second come in:
// beside the client of the broker with as many messages.
func BenchmarkBacklog(b *testing.B) {
	for b.Loop() {
		broker := publishtest.Mosquitto(b)
		h := hall{ports: 1, instruments: 1, broker: broker.Addr, backlogPerS: 100_000, journal: filepath.Join(b.TempDir(), "journal.db")}
		bare := h.loadOf(b, 100_000)
		alone := together(func() { bare.publishAll(b, broker.Addr, backlogRows) })
		h.stock(b, bare, backlogRows, "mqtt")

		var live stopwatch
		subscribe(b, broker.Addr, "manobridge/test-hall/"+name(0)+"/pressure", func(_ string, p []byte) { live.arrived(seq(p)) })
		lines := h.plug(b)
		began := time.Now()
		x := h.run(b, lines)
		lineEnd(b, lines[0])
		var halt atomic.Bool
		var trickling sync.WaitGroup
		trickling.Go(func() { trickle(b, lines[0], &live, 1<<30, &halt) })
		x.delivered(backlogRows)
		took := time.Since(began)
		halt.Store(true)
		trickling.Wait()
		wait(b, "the live messages", func() bool { return live.missing() == 0 })
		x.end()
		ms := live.quantiles(0, 0.5, 0.99, 1)
		b.ReportMetric(perSecond(backlogRows, took), "rows/s")
		b.ReportMetric(perSecond(backlogRows, alone), "paho/s")
		b.ReportMetric(alone.Seconds()/took.Seconds(), "of-paho")
		b.ReportMetric(ms[0], "live-p50-ms")
		b.ReportMetric(ms[1], "live-p99-ms")
		b.ReportMetric(ms[2], "live-max-ms")
	}
}
