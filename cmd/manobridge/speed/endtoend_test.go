package speed

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"manobridge/publish/publishtest"
)

// many is how many readings one measurement of throughput takes.
func many() int {
	if n, err := strconv.Atoi(os.Getenv("MANOBRIDGE_BENCH_READINGS")); err == nil && n > 0 {
		return n
	}
	return 200_000
}

// flood gives how long n readings take from the first byte on a line until every sink has acknowledged them, and what of the
// processors they took.
func (h *hall) flood(b *testing.B, n int) (took, used time.Duration, bytes int64) {
	lines := h.plug(b)
	x := h.run(b, lines)
	before, began := cpu(b), time.Now()
	fed := h.feed(b, lines, n)
	x.delivered(n)
	took, used = time.Since(began), cpu(b)-before
	fed.Wait()
	x.end()
	for _, l := range lines {
		l.Unplug()
	}
	return took, used, size(b, h.journal)
}

func perSecond(n int, took time.Duration) float64 { return float64(n) / took.Seconds() }

// From the first byte on a pseudo-terminal until broker and store have acknowledged every result, journal strict: beside the
// client of the broker, that of the store and SQLite with the same results, all three at once; and the client of the broker
// alone.
func BenchmarkEndToEnd(b *testing.B) {
	broker, store := publishtest.Mosquitto(b), publishtest.VictoriaMetrics(b)
	n := many()
	h := hall{ports: 4, instruments: 16, broker: broker.Addr, store: store.Addr, liveWithin: 10 * time.Minute,
		journal: filepath.Join(b.TempDir(), "journal.db")}
	bare := h.loadOf(b, n)
	for b.Loop() {
		before := cpu(b)
		all := together(func() { bare.publishAll(b, broker.Addr, n) }, func() { bare.writeAll(b, store.Addr) }, func() { bare.insertAll(b) })
		usedBare := cpu(b) - before
		took, used, bytes := h.flood(b, n)
		alone := together(func() { bare.publishAll(b, broker.Addr, n) })
		b.ReportMetric(perSecond(n, took), "readings/s")
		b.ReportMetric(perSecond(n, all), "bare/s")
		b.ReportMetric(perSecond(n, alone), "paho/s")
		b.ReportMetric(all.Seconds()/took.Seconds(), "of-bare")
		b.ReportMetric(alone.Seconds()/took.Seconds(), "of-paho")
		b.ReportMetric(used.Seconds()/float64(n)*1e6, "cpu-s/M")
		b.ReportMetric(usedBare.Seconds()/float64(n)*1e6, "bare-cpu-s/M")
		b.ReportMetric(float64(bytes)/float64(n), "journal-B")
	}
}

// The same without a broker, beside the client of the store alone.
func BenchmarkStoreOnly(b *testing.B) {
	store := publishtest.VictoriaMetrics(b)
	n := many()
	h := hall{ports: 4, instruments: 16, store: store.Addr, journal: filepath.Join(b.TempDir(), "journal.db")}
	bare := h.loadOf(b, n)
	for b.Loop() {
		alone := together(func() { bare.writeAll(b, store.Addr) })
		took, used, _ := h.flood(b, n)
		b.ReportMetric(perSecond(n, took), "readings/s")
		b.ReportMetric(perSecond(n, alone), "bare/s")
		b.ReportMetric(alone.Seconds()/took.Seconds(), "of-bare")
		b.ReportMetric(used.Seconds()/float64(n)*1e6, "cpu-s/M")
	}
}
