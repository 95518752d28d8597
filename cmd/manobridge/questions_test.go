package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"manobridge/cmd/manobridge/layout"
)

// hallFile is the configuration that package desk works out by hand.
var hallFile = filepath.Join("desk", "testdata", "filter-hall.yaml")

// ask runs one command line.
func ask(t *testing.T, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	status = executeContext(context.Background(), args, streams{strings.NewReader(""), &o, &e})
	return status, o.String(), e.String()
}

// The exit status is part of the interface: 0 done, 1 a mistake in the question, 3 understood and the answer is no.
func TestQuestionsExitStatus(t *testing.T) {
	panel := []string{"-c", hallFile, "panel-test"}
	coarse := []string{"-c", hallFile, "coarse-test"}
	line := func(command string, of []string, more ...string) []string {
		return append(append([]string{command}, of...), more...)
	}
	for _, c := range []struct {
		args   []string
		status int
		says   string // in what was printed
	}{
		{line("explain", panel, "--low-mm", "110", "--temperature-c", "20"), exitDone, "170.69"},
		{line("explain", coarse, "--high-mm", "-49.5", "--low-mm", "50.3"), exitDone, "977.8"},
		{line("explain", panel, "--low-mm", "110"), exitNo, "temperature-missing"},
		{line("explain", panel, "--low-mm", "400", "--temperature-c", "20"), exitNo, "limb-off-scale"},
		{line("explain", panel), exitNotStarted, "--low-mm"},
		{line("explain", panel, "--low-mm", "1O"), exitNotStarted, "not a number"},
		{line("explain", panel, "--low-mm", "nan"), exitNotStarted, "not a number"},
		{line("explain", panel, "--low-mm"), exitNotStarted, "not a number"},
		{[]string{"explain", "-c", hallFile, "panel", "--low-mm", "1"}, exitNotStarted, "coarse-test"},
		{[]string{"explain", "-c", "not-there.yaml", "panel", "--low-mm", "1"}, exitNotStarted, "not-there.yaml"},

		{line("predict", panel, "--change", "120 Pa"), exitDone, "80.3022"},
		{line("predict", panel, "--change", "-20 Pa"), exitNo, "down by 11.7170 mm"},
		{line("predict", panel, "--pressure", "600 Pa"), exitNo, "does NOT stay"},
		{line("predict", coarse, "--from", "-100 Pa", "--change", "1.1 kPa"), exitDone, "to             1000.0000 Pa"},
		{line("predict", panel), exitNotStarted, "--change"},
		{line("predict", panel, "--change", "120 Pa", "--pressure", "120 Pa"), exitNotStarted, "--pressure"},
		{line("predict", panel, "--change", "120"), exitNotStarted, "no unit"},
		{line("predict", panel, "--change", "--json"), exitNotStarted, "--change"},
		{line("predict", panel, "--change", "0.4 inH2O"), exitDone, "conventional water"},

		{line("budget", panel, "--at", "120 Pa"), exitDone, "0.63 Pa (k = 2.03)"},
		{line("budget", panel, "--at", "120 Pa", "--monte-carlo=2000"), exitDone, "2000 draws"},
		{line("budget", panel, "--low-mm", "110", "--temperature-c", "20"), exitDone, "170.69"},
		{line("budget", panel, "--low-mm", "110"), exitNo, "temperature-missing"},
		{line("budget", panel, "--low-mm", "110", "--at", "120 Pa"), exitNotStarted, "one of the two"},
		{line("budget", panel, "--monte-carlo=many"), exitNotStarted, "number of draws"},

		{[]string{"size", "--range", "0..250 Pa", "--resolve", "0.001 Pa", "--liquid", "water"}, exitNo, "resolution not reached"},
		{[]string{"size", "--range", "0..250 Pa", "--resolve", "0.1 Pa", "--liquid", "water", "--temperature-span", "59..86 °F"}, exitDone, "from 15 to 30 °C"},
		{[]string{"size", "--range", "-10 Pa..50 Pa", "--resolve", "0.06 Pa", "--liquid", "pale-oil", "-c", hallFile, "--max-length-mm", "300", "--temperature-span", "20..20 °C"}, exitNo, "wanted 0.06 Pa"},
		{[]string{"size", "--range", "250 Pa", "--resolve", "1 Pa"}, exitNotStarted, "two points"},
		{[]string{"size", "--range", "0..250", "--resolve", "1 Pa"}, exitNotStarted, "no unit"},
		{[]string{"size", "--range", "0..250 Pa", "--resolve", "1 Pa", "--liquid", "watre"}, exitNotStarted, "water"},

		{[]string{"fluid", "water", "--at-c", "4"}, exitDone, "999.97"},
		{[]string{"fluid", "pale-oil", "-c", hallFile}, exitDone, "9.80715"},
		{[]string{"fluid", "air", "--at-c", "20", "--pressure-hpa", "1013.25", "--humidity-pct", "50"}, exitDone, "1.1993"},
		{[]string{"fluid", "water", "--at-c", "-5"}, exitNo, "allowed: 0"},
		{[]string{"fluid", "water", "--humidity-pct", "5"}, exitNotStarted, "air alone"},
		{[]string{"fluid", "watre"}, exitNotStarted, "did you mean"},

		{[]string{"gravity", "--latitude-deg", "-45", "--height-m", "1000"}, exitDone, "9.80311"},
		{[]string{"gravity", "--latitude-deg", "100", "--height-m", "0"}, exitNotStarted, "latitude"},
		{[]string{"gravity", "--latitude-deg", "45"}, exitNotStarted, "--height-m"},
	} {
		status, out, errs := ask(t, c.args...)
		if status != c.status || !strings.Contains(out+errs, c.says) {
			t.Errorf("%q: got status %d and\n%s%s\nwant status %d and %q", c.args, status, out, errs, c.status, c.says)
		}
		if status != exitDone && status != exitNo && out != "" {
			t.Errorf("%q: got %q on standard output, want nothing but the reason on standard error", c.args, out)
		}
		for _, l := range strings.Split(out, "\n") {
			if n := utf8.RuneCountInString(l); n > layout.Width {
				t.Errorf("%q: got a line of %d characters, want at most %d: %q", c.args, n, layout.Width, l)
			}
		}
	}
}

// Every question answers in JSON too, with the same number, and nothing but JSON on standard output.
func TestQuestionsInJSON(t *testing.T) {
	for _, c := range []struct {
		args      []string
		key       string
		want, tol float64
		source    string
	}{
		{[]string{"explain", "-c", hallFile, "panel-test", "--low-mm", "110", "--temperature-c", "20"}, "differential_pressure_pa", 170.691626, 1e-5, "by hand, in package desk"},
		{[]string{"predict", "-c", hallFile, "panel-test", "--change", "1.2 mbar"}, "to_pa", 120, 1e-9, "1 mbar is 100 Pa"},
		{[]string{"budget", "-c", hallFile, "panel-test", "--at", "120 Pa"}, "pressure_pa", 120, 0, "as asked"},
		{[]string{"size", "--range", "0..2.5 mbar", "--resolve", "0.1 Pa", "--liquid", "water"}, "resolve_pa", 0.1, 0, "as asked"},
		{[]string{"fluid", "water"}, "density_kg_m3", 998.2067, 1e-4, "Tanaka et al., Metrologia 38 (2001) 301"},
		{[]string{"gravity", "--latitude-deg", "45", "--height-m", "1000"}, "gravity_m_s2", 9.80311290, 2e-7, "GeographicLib, WGS 84"},
	} {
		status, out, errs := ask(t, append(c.args, "--json")...)
		var doc map[string]any
		if err := json.Unmarshal([]byte(out), &doc); status != exitDone || err != nil {
			t.Fatalf("%q: got status %d, %v, %s%s; want one JSON object", c.args, status, err, out, errs)
		}
		if got, ok := doc[c.key].(float64); !ok || math.Abs(got-c.want) > c.tol {
			t.Errorf("%q: got %s %v, want %v ± %g (%s)", c.args, c.key, doc[c.key], c.want, c.tol, c.source)
		}
	}
}

// The budgets and explanations of the shipped examples fit a terminal, whatever their instruments are called.
func TestExamplesFitATerminal(t *testing.T) {
	for _, c := range []struct{ file, instrument string }{
		{"filter-bench", "hepa-bank-2"}, {"filter-bench", "prefilter"}, {"cleanroom-suite", "return-filter"},
		{"cleanroom-suite", "airlock-203"}, {"limb-pair", "suction"},
	} {
		file := filepath.Join("..", "..", "configs", c.file+".example.yaml")
		for _, command := range []string{"budget", "predict"} {
			args := []string{command, "-c", file, c.instrument}
			if command == "predict" {
				args = append(args, "--change", "20 Pa")
			}
			status, out, errs := ask(t, args...)
			if status != exitDone {
				t.Errorf("%q: got status %d, %s; want %d", args, status, errs, exitDone)
			}
			for _, l := range strings.Split(out, "\n") {
				if n := utf8.RuneCountInString(l); n > layout.Width {
					t.Errorf("%q: got a line of %d characters, want at most %d: %q", args, n, layout.Width, l)
				}
			}
		}
	}
}
