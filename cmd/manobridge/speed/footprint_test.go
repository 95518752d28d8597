package speed

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// program builds the program as it is installed, without cgo.
func program(b *testing.B) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "manobridge")
	cmd := exec.Command("go", "build", "-o", path, "manobridge/cmd/manobridge")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("build the program: %v\n%s", err, out)
	}
	return path
}

// daemon is the program as a process of its own.
type daemon struct {
	b   *testing.B
	cmd *exec.Cmd
}

// launch starts the program.
func (h *hall) launch(b *testing.B, program string, lines []*ingesttest.Line) *daemon {
	b.Helper()
	path := filepath.Join(b.TempDir(), "bench.yaml")
	if err := os.WriteFile(path, []byte(h.config(lines)), 0o600); err != nil {
		b.Fatal(err)
	}
	d := &daemon{b, exec.Command(program, "run", "-c", path)}
	var said bytes.Buffer
	d.cmd.Stderr = &said
	if err := d.cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		_ = d.cmd.Process.Kill()
		_ = d.cmd.Wait()
		if b.Failed() {
			b.Logf("the program said:\n%s", said.String())
		}
	})
	return d
}

func (d *daemon) stop() {
	d.b.Helper()
	if err := d.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		d.b.Error(err)
	}
	if err := d.cmd.Wait(); err != nil {
		d.b.Errorf("got %v at the stop, want exit status 0", err)
	}
}

// memory gives what the process holds of the memory now, and the most it ever held, in MB of 10⁶ bytes. Source: proc(5), VmRSS
// and VmHWM.
func (d *daemon) memory() (now, most float64) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", d.cmd.Process.Pid))
	if err != nil {
		d.b.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		key, value, _ := strings.Cut(line, ":")
		kB, _ := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(value), " kB"), 64)
		switch key {
		case "VmRSS":
			now = kB * 1024 / 1e6
		case "VmHWM":
			most = kB * 1024 / 1e6
		}
	}
	return now, most
}

// cpu is what the process has used so far. Source: proc(5), utime and stime in hundredths of a second.
func (d *daemon) cpu() time.Duration {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", d.cmd.Process.Pid))
	if err != nil {
		d.b.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(text), ") ")
	fields := strings.Fields(rest)
	user, _ := strconv.Atoi(fields[11])
	system, _ := strconv.Atoi(fields[12])
	return time.Duration(user+system) * 10 * time.Millisecond
}

// beat writes a reading of every instrument ten times a second, spread over the tenth, until halt.
func (h *hall) beat(b *testing.B, lines []*ingesttest.Line, halt *atomic.Bool) {
	tick := time.NewTicker(100 * time.Millisecond / time.Duration(h.instruments))
	defer tick.Stop()
	for k := 0; !halt.Load(); k++ {
		<-tick.C
		i := k % h.instruments
		if _, err := lines[i%h.ports].Master().Write(frame(nil, i, k)); err != nil {
			b.Errorf("write frames: %v", err)
			return
		}
	}
}

// fleet runs the program with readings at 10 Hz of every instrument for a time, and reports what it holds and uses.
func (h *hall) fleet(b *testing.B, program string, settle func(*daemon), span time.Duration) {
	lines := h.plug(b)
	d := h.launch(b, program, lines)
	var halt atomic.Bool
	var beating sync.WaitGroup
	for _, l := range lines {
		lineEnd(b, l)
	}
	beating.Go(func() { h.beat(b, lines, &halt) })
	settle(d)
	before, began := d.cpu(), time.Now()
	<-time.After(span)
	used, over := d.cpu()-before, time.Since(began)
	now, most := d.memory()
	halt.Store(true)
	beating.Wait()
	d.stop()
	for _, l := range lines {
		l.Unplug()
	}
	b.ReportMetric(now, "RSS-MB")
	b.ReportMetric(most, "most-MB")
	b.ReportMetric(100*used.Seconds()/over.Seconds(), "%core")
}

// delivers waits until n messages of the topic have come.
func delivers(b *testing.B, addr, topic string, n int64) (all func()) {
	var came atomic.Int64
	subscribe(b, addr, topic, func(string, []byte) { came.Add(1) })
	return func() {
		wait(b, fmt.Sprintf("%d messages of %s", n, topic), func() bool { return came.Load() >= n })
	}
}

// The program with 64 ports and 64 instruments at 10 Hz, both sinks on.
func BenchmarkFleet(b *testing.B) {
	path := program(b)
	for b.Loop() {
		broker, store := publishtest.Mosquitto(b), publishtest.VictoriaMetrics(b)
		h := hall{ports: 64, instruments: 64, broker: broker.Addr, store: store.Addr, journal: filepath.Join(b.TempDir(), "journal.db")}
		live := delivers(b, broker.Addr, "manobridge/test-hall/+/pressure", 640)
		h.fleet(b, path, func(*daemon) { live() }, 20*time.Second)
	}
}

// The same after a backlog of 10⁶ rows has been delivered to both.
func BenchmarkFleetAfterBacklog(b *testing.B) {
	path := program(b)
	for b.Loop() {
		broker, store := publishtest.Mosquitto(b), publishtest.VictoriaMetrics(b)
		h := hall{ports: 64, instruments: 64, broker: broker.Addr, store: store.Addr, backlogPerS: 100_000,
			journal: filepath.Join(b.TempDir(), "journal.db")}
		h.stock(b, h.loadOf(b, 500), backlogRows, "mqtt", "series")
		late := delivers(b, broker.Addr, "manobridge/test-hall/+/backlog", backlogRows)
		h.fleet(b, path, func(*daemon) { late() }, 20*time.Second)
	}
}

// From the start of the program until a subscriber has the first live value, with journals of 10⁵ to 10⁷ rows, all delivered.
// A port is read from the moment it is open; frames come 100 times a second.
func BenchmarkStart(b *testing.B) {
	path := program(b)
	for _, rows := range []int{100_000, 1_000_000, 10_000_000} {
		if rows > 1_000_000 && os.Getenv("MANOBRIDGE_LONG") != "1" {
			continue
		}
		b.Run(strconv.Itoa(rows), func(b *testing.B) {
			broker := publishtest.Mosquitto(b)
			h := hall{ports: 1, instruments: 1, broker: broker.Addr, journal: filepath.Join(b.TempDir(), "journal.db")}
			rate := h.stock(b, h.loadOf(b, 500), rows)
			bytes := size(b, h.journal)
			for b.Loop() {
				live := delivers(b, broker.Addr, "manobridge/test-hall/+/pressure", 1)
				lines := h.plug(b)
				var s stopwatch
				var halt atomic.Bool
				var trickling sync.WaitGroup
				trickling.Go(func() { trickle(b, lines[0], &s, 1<<30, &halt) })
				began := time.Now()
				d := h.launch(b, path, lines)
				live()
				took := time.Since(began)
				halt.Store(true)
				trickling.Wait()
				d.stop()
				lines[0].Unplug()
				b.ReportMetric(took.Seconds()*1000, "start-ms")
				b.ReportMetric(float64(bytes)/float64(rows), "journal-B")
				b.ReportMetric(rate, "append/s")
			}
		})
	}
}
