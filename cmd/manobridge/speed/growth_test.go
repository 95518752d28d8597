package speed

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"manobridge/publish/publishtest"
)

// How the cost of a reading grows with ports and instruments: straight lines are expected, the same cost at every size.
// BenchmarkStart has the journals, BenchmarkBacklog and BenchmarkFleetAfterBacklog the backlog.
func BenchmarkGrowth(b *testing.B) {
	const n = 100_000
	for _, ports := range []int{1, 8, 64} {
		for _, instruments := range []int{10, 100, 1000} {
			if instruments < ports {
				continue // a port without an instrument is not read
			}
			b.Run(fmt.Sprintf("ports=%d/instruments=%d", ports, instruments), func(b *testing.B) {
				broker, store := publishtest.Mosquitto(b), publishtest.VictoriaMetrics(b)
				h := hall{ports: ports, instruments: instruments, broker: broker.Addr, store: store.Addr, liveWithin: 10 * time.Minute}
				for b.Loop() {
					h.journal = filepath.Join(b.TempDir(), "journal.db")
					took, used, bytes := h.flood(b, n)
					b.ReportMetric(perSecond(n, took), "readings/s")
					b.ReportMetric(used.Seconds()/n*1e6, "cpu-s/M")
					b.ReportMetric(float64(bytes)/n, "journal-B")
				}
			})
		}
	}
}
