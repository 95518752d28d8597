package bridge_test

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"manobridge/configs"
	"manobridge/convert"
)

// Digitizers that answer in lines when asked, played by another process: from the configuration to the journal, each with its
// own values and causes.
func TestInstrumentsAskedInLines(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatal("python3 missing")
	} else if err != nil {
		t.Skip("SKIPPED: python3 missing, nobody to ask")
	}
	peer := exec.Command(python, filepath.Join("..", "..", "..", "ingest", "testdata", "lines_peer.py"), "echo", "> ")
	out, err := peer.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := peer.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = peer.Process.Kill() // it may have ended with its terminal
		_ = peer.Wait()
	}()
	device, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	path := journalPath(t)
	c, err := configs.Parse("asked", []byte(fmt.Sprintf(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
ports:
  stand:
    device: %q
    baud: 9600
    frame: {format: delimited, fields: [address, low_mm, temperature_c]}
    ask: {protocol: lines, request: "#{address}", prompt: "> ", echo: true, every: 100ms, timeout: 300ms, gap: 200ms}
    silence: 60s
instruments:
  supply: {port: stand, address: "01", liquid: water, geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}, zero: {low_mm: 10.2, temperature_c: 20.4}}
  exhaust: {port: stand, address: "06", liquid: water, geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}, zero: {low_mm: 10.2, temperature_c: 20.4}}
journal: {path: %q}
`, strings.TrimSpace(device), path)), configs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := start(t, c)
	eventually(t, "answers of both", func() bool { n := x.b.Counts(); return n.Good >= 3 && n.Bad >= 3 })
	x.end()
	for _, r := range rows(t, path) {
		switch r.Instrument {
		case "supply":
			if mm := r.Low.V.Millimetres(); r.Refusal != nil || mm < 101 || mm > 102 {
				t.Errorf("got %v mm, %v of supply, want 101.xx", mm, r.Refusal)
			}
		case "exhaust":
			if r.Refusal == nil || r.Refusal.Code != convert.FrameErrorWord {
				t.Errorf("got %v of exhaust, want the word for no value refused", r.Refusal)
			}
		}
	}
}
