// Package speed measures what the bridge costs beside the bare clients: the same results, the same broker and store, one
// run. It holds nothing but benchmarks and promises no figure: those of a machine are of that machine.
package speed

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/ingest/ingesttest"
)

// patience bounds every wait; only a true hang meets it.
const patience = 3 * time.Minute

// hall is how many ports and instruments there are, where results go, and where the journal is.
type hall struct {
	ports, instruments int
	broker, store      string // addresses; empty: none
	backlogPerS        int    // 0: the default
	liveWithin         time.Duration
	journal            string
}

// config is the configuration of the hall. Instrument i is on port i mod ports, at the address of its number.
func (h *hall) config(lines []*ingesttest.Line) string {
	var t strings.Builder
	t.WriteString(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
ports:
`)
	for i, l := range lines {
		fmt.Fprintf(&t, `  rack-%d:
    device: %q
    baud: 115200
    frame: {format: delimited, separator: ",", fields: [address, low_mm, temperature_c]}
    silence: 10m
`, i, l.Path)
	}
	t.WriteString("instruments:\n")
	for i := range h.instruments {
		fmt.Fprintf(&t, `  %s:
    port: rack-%d
    address: "%04d"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
`, name(i), i%h.ports, i)
	}
	t.WriteString("publish:\n")
	if h.broker != "" {
		fmt.Fprintf(&t, "  mqtt: {url: \"tcp://%s\", live_within: %v", h.broker, max(h.liveWithin, 5*time.Second))
		if h.backlogPerS > 0 {
			fmt.Fprintf(&t, ", backlog_per_s: %d", h.backlogPerS)
		}
		t.WriteString("}\n")
	}
	if h.store != "" {
		fmt.Fprintf(&t, "  series: {url: \"http://%s\", bucket: bench}\n", h.store)
	}
	fmt.Fprintf(&t, "journal: {path: %q, durability: strict}\nrun: {drain: 10s}\n", h.journal)
	return t.String()
}

// name is that of instrument i.
func name(i int) string { return fmt.Sprintf("bank-%d", i) }

// position gives the k-th reading of the hall, in mm and °C.
func position(k int) (lowMM, temperatureC float64) {
	return 20 + float64(k*7919%24000)/100, 20 + float64(k%300)/100
}

// frame is the k-th reading of the hall, of the instrument.
func frame(dst []byte, instrument, k int) []byte {
	low, temperature := position(k)
	return fmt.Appendf(dst, "%04d,%.2f,%.2f\n", instrument, low, temperature)
}

// plug makes the lines of the ports.
func (h *hall) plug(b *testing.B) []*ingesttest.Line {
	lines := make([]*ingesttest.Line, h.ports)
	for i := range lines {
		lines[i] = ingesttest.NewLine(b)
	}
	return lines
}

// feed writes readings 0 to n-1 to the lines as fast as they are taken: reading k is of instrument k mod instruments.
func (h *hall) feed(b *testing.B, lines []*ingesttest.Line, n int) *sync.WaitGroup {
	var all sync.WaitGroup
	for p, l := range lines {
		all.Go(func() {
			block := make([]byte, 0, 4096)
			lineEnd(b, l)
			write := func() bool {
				_, err := l.Master().Write(block)
				if err != nil {
					b.Errorf("write frames: %v", err)
				}
				block = block[:0]
				return err == nil
			}
			for k := range n {
				if i := k % h.instruments; i%h.ports == p {
					block = frame(block, i, k)
				}
				if len(block) > 2000 && !write() {
					return
				}
			}
			write()
		})
	}
	return &all
}

// lineEnd writes a line end: what comes before the first may be half a frame, and is not used.
func lineEnd(b *testing.B, l *ingesttest.Line) {
	if _, err := l.Master().Write([]byte{'\n'}); err != nil {
		b.Fatal(err)
	}
}

// running is a bridge of this process.
type running struct {
	b      *testing.B
	bridge *bridge.Bridge
	stop   context.CancelFunc
	done   chan error
	gc     int // before
}

// run starts a bridge of this process.
func (h *hall) run(b *testing.B, lines []*ingesttest.Line) *running {
	b.Helper()
	c, err := configs.Parse("bench.yaml", []byte(h.config(lines)), configs.Options{HostName: "bench"})
	if err != nil {
		b.Fatal(err)
	}
	x := &running{b: b, done: make(chan error, 1), gc: debug.SetGCPercent(bridge.GarbagePercent)}
	x.bridge, err = bridge.Open(b.Context(), bridge.Options{Config: c,
		Log:          slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError})),
		Synchronised: func() (yes, known bool) { return true, true }})
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	x.stop = stop
	go func() { x.done <- x.bridge.Run(ctx) }()
	wait(b, "the sinks are connected and the ports open", func() bool {
		for _, d := range x.bridge.Deliveries() {
			if d.Sink == "mqtt" && d.Link == "down" {
				return false
			}
		}
		for _, s := range x.bridge.Sources() {
			if !s.Stats().Open {
				return false
			}
		}
		return true
	})
	return x
}

// end stops the bridge.
func (x *running) end() {
	x.stop()
	if err := <-x.done; err != nil {
		x.b.Errorf("got %v at the stop, want nil", err)
	}
	if err := x.bridge.Close(); err != nil {
		x.b.Error(err)
	}
	debug.SetGCPercent(x.gc)
}

// delivered waits until every sink has acknowledged n results.
func (x *running) delivered(n int) {
	x.b.Helper()
	stalled := time.AfterFunc(15*time.Second, func() { fmt.Fprintln(os.Stderr, "not all acknowledged:", x.bridge.Status()) })
	defer stalled.Stop()
	wait(x.b, fmt.Sprintf("%d results are acknowledged", n), func() bool {
		for _, d := range x.bridge.Deliveries() {
			if d.Delivered < int64(n) {
				return false
			}
		}
		return true
	})
}

// wait polls a condition.
func wait(b *testing.B, what string, cond func() bool) {
	b.Helper()
	deadline := time.Now().Add(patience)
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for !cond() {
		if time.Now().After(deadline) {
			b.Fatalf("waited %v for: %s", patience, what)
		}
		<-tick.C
	}
}

// cpu is what this process has used so far of the processors.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// size is what the files of a journal take on the disk.
func size(b *testing.B, path string) (bytes int64) {
	names, err := filepath.Glob(path + "*")
	if err != nil {
		b.Fatal(err)
	}
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil {
			b.Fatal(err)
		}
		if info.Mode().IsRegular() {
			bytes += info.Size()
		}
	}
	return bytes
}
