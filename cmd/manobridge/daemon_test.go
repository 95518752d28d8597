package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// program builds the program as it is installed.
func program(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "manobridge")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		t.Fatalf("build the program: %v\n%s", err, out)
	}
	return path
}

// daemon is the program while it runs.
type daemon struct {
	t    *testing.T
	cmd  *exec.Cmd
	mu   sync.Mutex
	text strings.Builder
	read chan struct{} // closed when its log has ended
}

// launch starts the daemon on a configuration.
func launch(t *testing.T, program, config string, flags ...string) *daemon {
	t.Helper()
	d := &daemon{t: t, cmd: exec.Command(program, append([]string{"run", "-c", config}, flags...)...), read: make(chan struct{})}
	out, err := d.cmd.StderrPipe()
	if err == nil {
		err = d.cmd.Start()
	}
	if err != nil {
		t.Fatalf("start the program: %v", err)
	}
	go func() {
		defer close(d.read)
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadString('\n')
			d.mu.Lock()
			d.text.WriteString(line)
			d.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() {
		_ = d.cmd.Process.Kill()
		d.status()
		if t.Failed() {
			t.Logf("the program said:\n%s", d.said())
		}
	})
	return d
}

func (d *daemon) said() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.text.String()
}

// says waits for a line of the log.
func (d *daemon) says(text string) {
	d.t.Helper()
	publishtest.Eventually(d.t, "the log says "+text, func() bool { return strings.Contains(d.said(), text) })
}

func (d *daemon) signal(s os.Signal) {
	d.t.Helper()
	if err := d.cmd.Process.Signal(s); err != nil {
		d.t.Fatalf("signal %v: %v", s, err)
	}
}

// status waits for the end and gives the exit status, -1 after a signal.
func (d *daemon) status() int {
	<-d.read
	_ = d.cmd.Wait() // its state says more
	return d.cmd.ProcessState.ExitCode()
}

// writeConfig writes a configuration of two instruments on one line. publish is the block of that name, empty for none.
func writeConfig(t *testing.T, device, journal, publish string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.yaml")
	text := fmt.Sprintf(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
ports:
  rack-a:
    device: %q
    baud: 9600
    frame: {format: delimited, separator: ",", fields: [address, low_mm, temperature_c]}
    silence: 5s
    reopen: {first: 20ms, longest: 100ms}
instruments:
  bank-1:
    port: rack-a
    address: "02"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
  bank-2:
    port: rack-a
    address: "03"
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
%s
journal: {path: %q}
run: {drain: 10s}
`, device, publish, journal)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// frames writes frames to the line until halt is called, also while nobody reads it: then they are lost, as on a real line.
func frames(t *testing.T, line *ingesttest.Line) (halt func()) {
	t.Helper()
	var stop atomic.Bool
	ended := make(chan struct{})
	master := line.Master()
	go func() {
		defer close(ended)
		tick := time.NewTicker(2 * time.Millisecond)
		defer tick.Stop()
		for i := 0; !stop.Load(); i++ {
			<-tick.C
			_ = master.SetWriteDeadline(time.Now().Add(20 * time.Millisecond))
			_, err := fmt.Fprintf(master, "02,%.2f,21.0\n03,%.2f,21.5\n", 20+float64(i%2500)/10, 30+float64(i%2400)/10)
			if err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
				t.Errorf("write frames: %v", err)
				return
			}
		}
	}()
	halt = sync.OnceFunc(func() { stop.Store(true); <-ended })
	t.Cleanup(halt)
	return halt
}

// kept reads journal and gaps as another program would. A journal that is not there yet is empty.
func kept(t *testing.T, path string) (names map[convert.Name]publish.Row, gaps []journal.Gap) {
	t.Helper()
	return keptAfter(t, path, 0)
}

// keptAfter is kept with the rows after an ID alone.
func keptAfter(t *testing.T, path string, id int64) (names map[convert.Name]publish.Row, gaps []journal.Gap) {
	t.Helper()
	names = map[convert.Name]publish.Row{}
	r, err := journal.OpenReader(t.Context(), path)
	if errors.Is(err, os.ErrNotExist) {
		return names, nil
	}
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	const limit = 1000
	for {
		rows, err := r.Rows(t.Context(), id, limit)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			names[row.Name], id = row, row.ID
		}
		if len(rows) < limit {
			break
		}
	}
	if gaps, err = r.Gaps(t.Context()); err != nil {
		t.Fatal(err)
	}
	return names, gaps
}

// waitFor waits until every row is at the subscriber, and holds its values.
func waitFor(t *testing.T, subscriber *publishtest.Subscriber, now map[convert.Name]publish.Row) {
	t.Helper()
	got := map[convert.Name]publish.Payload{}
	subscriber.Wait(t, "every result of the journal", func(list []publishtest.Message) bool {
		for _, m := range list[min(len(list), len(got)):] {
			p, err := publish.ParsePayload(m.Payload)
			if err != nil {
				t.Fatalf("read %s: %v", m.Payload, err)
			}
			got[convert.Name{Run: p.Origin.Run, Instrument: p.Instrument, Seq: p.Origin.Seq}] = p
		}
		for name := range now {
			if _, ok := got[name]; !ok {
				return false
			}
		}
		return true
	})
	for name, row := range now {
		p := got[name]
		if pa, ok := row.Pressure(); ok && (p.DifferentialPressurePa.V != pa || !p.Time.Equal(row.ReceivedAt)) {
			t.Fatalf("%+v: got %+v, want the row of the journal %+v", name, p, row)
		}
	}
}
