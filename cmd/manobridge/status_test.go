package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"
)

// The exit statuses of the commands that only compute: 0 done, 3 ran and the answer is no, 1 not started. A status that
// is not 1 leaves its output whole.
func TestExitStatuses(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		writeFile(t, path, text)
		return path
	}
	const bench = `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 0}
liquids:
  oil: {density_kg_m3: 1000, density_u_kg_m3: 0, reference_c: 20, expansion_per_k: 0.001}
instruments:
  hood:
    offline: true
    liquid: oil
    geometry: {kind: inclined-reservoir, slope_deg: 30, area_ratio: 0.01, scale_mm: [0, 300]}
    zero: {low_mm: 10, temperature_c: 20}
`
	good := write("bench.yaml", bench)
	misspelt := write("misspelt.yaml", strings.Replace(bench, "slope_deg", "slop_deg", 1))
	// What only the converter sees: a tilt since the zero without the distance it acts over.
	tilted := write("tilted.yaml", strings.Replace(bench, "low_mm: 10, ", "low_mm: 10, tilt_deg: 1, ", 1)+"    tilt_deg: 2\n")
	rows := write("rows.csv", "low_mm,temperature_c\n110,20\n120,21\n")
	refused := write("refused.csv", "low_mm,temperature_c\n110,20\n400,20\n120,20\n")
	unknown := write("unknown.csv", "low_mm,temp_c\n110,20\n")
	empty := write("empty.csv", "")
	for _, c := range []struct {
		name  string
		args  []string
		stdin string
		want  int
		lines int // of standard output; -1 for any number above 0
		says  string
	}{
		{"check, nothing wrong", []string{"check", "-c", good}, "", exitDone, -1, ""},
		{"check, a misspelt key", []string{"check", "-c", misspelt}, "", exitNo, 0, "slope_deg"},
		{"check, what the converter refuses", []string{"check", "-c", tilted}, "", exitNo, 0, "zero_distance_mm"},
		{"check, no such file", []string{"check", "-c", filepath.Join(dir, "none.yaml")}, "", exitNotStarted, 0, "none.yaml"},
		{"check, no such flag", []string{"check", "--confg", good}, "", exitNotStarted, 0, "--confg"},
		{"convert", []string{"convert", "-c", good, rows}, "", exitDone, 2, ""},
		{"convert from standard input", []string{"convert", "-c", good}, "low_mm,temperature_c\n110,20\n", exitDone, 1, ""},
		{"convert, a row refused", []string{"convert", "-c", good, refused}, "", exitNo, 3, "1 of 3 rows refused"},
		{"convert, an unknown column", []string{"convert", "-c", good, unknown}, "", exitNotStarted, 0, "temp_c"},
		{"convert, an empty file", []string{"convert", "-c", good, empty}, "", exitNotStarted, 0, "empty"},
		{"convert, no such file", []string{"convert", "-c", good, filepath.Join(dir, "none.csv")}, "", exitNotStarted, 0, "none.csv"},
		{"convert, a wrong configuration", []string{"convert", "-c", misspelt, rows}, "", exitNotStarted, 0, "slope_deg"},
		{"convert, what the converter refuses", []string{"convert", "-c", tilted, rows}, "", exitNotStarted, 0, "zero_distance_mm"},
		{"convert without a configuration", []string{"convert", rows}, "", exitNotStarted, 0, "config"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var out, errs bytes.Buffer
			got := executeContext(t.Context(), c.args, streams{strings.NewReader(c.stdin), &out, &errs})
			if got != c.want {
				t.Errorf("got status %d, want %d: %s", got, c.want, errs.String())
			}
			if n := strings.Count(out.String(), "\n"); n != c.lines && (c.lines >= 0 || n == 0) {
				t.Errorf("got %d lines of output, want %d: %q", n, c.lines, out.String())
			}
			if !strings.Contains(errs.String(), c.says) {
				t.Errorf("got message %q, want it to say %q", errs.String(), c.says)
			}
		})
	}
}
