package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// exported runs export on a journal with the given results and gives its exit status and what it printed.
func exported(t *testing.T, results []convert.Result, args ...string) (int, string, string) {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, "manobridge.db")
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "now", Bridge: "bench-pc", Started: publishtest.Epoch()})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Append(t.Context(), results); err != nil {
		t.Fatal(err)
	}
	if err := j.RecordGap(t.Context(), journal.Gap{Instrument: "bank-1", Run: "now", Cause: convert.Silence, From: publishtest.Epoch(), Until: publishtest.Epoch().Add(time.Minute)}); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "bench.yaml")
	writeFile(t, file, strings.ReplaceAll(exportBench, "JOURNAL", path))
	var out, errs bytes.Buffer
	status := executeContext(t.Context(), append([]string{"export", "-c", file}, args...), streams{strings.NewReader(""), &out, &errs})
	return status, out.String(), errs.String()
}

const exportBench = `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
instruments:
  bank-1: {offline: true, liquid: water, geometry: {kind: u-tube, bore_mm: 6, scale_mm: [0, 300]}, zero: {low_mm: 10, temperature_c: 20}}
  bank-2: {offline: true, liquid: water, geometry: {kind: u-tube, bore_mm: 6, scale_mm: [0, 300]}, zero: {low_mm: 10, temperature_c: 20}}
journal: {path: "JOURNAL"}
`

// What goes into the journal comes out of export, as JSON lines and as CSV, bad results included.
func TestExportGivesBackTheJournal(t *testing.T) {
	given := append(publishtest.Series("now", "bank-1", 1, 20), publishtest.Series("now", "bank-2", 1, 5)...)
	status, out, errs := exported(t, given)
	if status != exitDone {
		t.Fatalf("got status %d: %s", status, errs)
	}
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if len(lines) != len(given) {
		t.Fatalf("got %d lines, want %d", len(lines), len(given))
	}
	for i, line := range lines {
		p, err := publish.ParsePayload([]byte(line))
		if err != nil {
			t.Fatal(err)
		}
		want, ok := given[i].Pressure()
		if p.Origin.Seq != given[i].Seq || p.DifferentialPressurePa.Set != ok || ok && p.DifferentialPressurePa.V != want {
			t.Errorf("line %d: got %s, want seq %d and %v Pa", i+1, line, given[i].Seq, want)
		}
	}

	status, out, errs = exported(t, given, "--csv", "--instrument", "bank-2")
	records, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if status != exitDone || err != nil || len(records) != 1+5 {
		t.Fatalf("got status %d, %v, %d records: %s", status, err, len(records), errs)
	}
	if got := records[1][10]; records[0][10] != "temperature_c" || got != "21.4" {
		t.Errorf("got %q in column %q, want 21.4 as it was sent", got, records[0][10])
	}

	if status, out, _ = exported(t, given, "--gaps"); status != exitDone || !strings.Contains(out, `"cause":"silence"`) {
		t.Errorf("got status %d and %q, want the gap", status, out)
	}
	for _, args := range [][]string{{"--instrument", "bank-9"}, {"--since", "yesterday"}} {
		if status, _, errs = exported(t, given, args...); status != exitNotStarted || errs == "" {
			t.Errorf("%v: got status %d and %q, want %d with a reason", args, status, errs, exitNotStarted)
		}
	}
}

func writeFile(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}
