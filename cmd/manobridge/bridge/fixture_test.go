package bridge_test

import (
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/journal"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience bounds every wait; only a true hang meets it.
const patience = 60 * time.Second

// logLines collects the log.
type logLines struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logLines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logLines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// bench is a bridge under test with two reservoir instruments on one line, at the addresses 02 and 03.
type bench struct {
	t    *testing.T
	cfg  *configs.Config
	log  logLines
	b    *bridge.Bridge
	stop context.CancelFunc
	done chan error
	once sync.Once
}

// config is the configuration of the bench. publish is the block of that name, empty for none.
func config(t *testing.T, device, journalPath, publish string) *configs.Config {
	t.Helper()
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
    silence: 700ms
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
`, device, publish, journalPath)
	c, err := configs.Parse("bench.yaml", []byte(text), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// synchronised is a clock that needs no mark, whatever that of the machine under the tests is.
func synchronised() (yes, known bool) { return true, true }

// start opens and runs a bridge; it is stopped when the test ends.
func start(t *testing.T, c *configs.Config, with ...func(*bridge.Options)) *bench {
	t.Helper()
	x := &bench{t: t, cfg: c, done: make(chan error, 1)}
	o := bridge.Options{Config: c, Log: slog.New(slog.NewTextHandler(&x.log, nil)), Synchronised: synchronised}
	for _, f := range with {
		f(&o)
	}
	var err error
	x.b, err = bridge.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	x.stop = stop
	go func() { x.done <- x.b.Run(ctx) }()
	t.Cleanup(x.end)
	return x
}

// end stops the bridge and closes its journal.
func (x *bench) end() {
	x.once.Do(func() {
		x.stop()
		select {
		case err := <-x.done:
			if err != nil {
				x.t.Errorf("got %v at the stop, want nil", err)
			}
		case <-time.After(patience):
			x.t.Errorf("the bridge does not stop")
			return
		}
		if err := x.b.Close(); err != nil {
			x.t.Errorf("close: %v", err)
		}
		if x.t.Failed() {
			x.t.Logf("the bridge said:\n%s", x.log.String())
		}
	})
}

// rows reads the journal as another program would.
func rows(t *testing.T, path string) []publish.Row {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	var out []publish.Row
	for row, err := range r.Export(t.Context(), journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, row)
	}
	return out
}

// eventually waits for a condition.
func eventually(t *testing.T, what string, cond func() bool) {
	t.Helper()
	deadline := time.Now().Add(patience)
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for !cond() {
		if time.Now().After(deadline) {
			t.Fatalf("waited %v for %s", patience, what)
		}
		<-tick.C
	}
}

// journalPath is a journal of the test's own.
func journalPath(t *testing.T) string { return filepath.Join(t.TempDir(), "manobridge.db") }

// causesOf counts rows by their first cause; good ones under "".
func causesOf(list []publish.Row) map[convert.Cause]int {
	n := map[convert.Cause]int{}
	for i := range list {
		c := convert.Cause("")
		if len(list[i].Causes) > 0 {
			c = list[i].Causes[0]
		}
		n[c]++
	}
	return n
}
