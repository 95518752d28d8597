package main

import (
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// Rows go by the zero of the file, 10.2 mm, also where another was taken on the bridge, and whoever reads the numbers is told:
// at 10.2 mm the pressure is 0, and 1 mm along that tube is 1.7069 Pa (worked by hand in package anew).
func TestConvertSaysWhichZeroItGoesBy(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "j.db")
	config := writeConfig(t, filepath.Join(dir, "no-port"), path, "")
	cfg, err := loadConfig(config, true)
	if err != nil {
		t.Fatal(err)
	}
	rows := filepath.Join(dir, "rows.csv")
	writeFile(t, rows, "instrument,low_mm,temperature_c\nbank-1,10.2,20.4\n")
	if status, _, errs := ask(t, "convert", "-c", config, rows); status != exitDone || errs != "" {
		t.Errorf("without a journal: got status %d and %q, want %d and nothing", status, errs, exitDone)
	}
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "march", Bridge: cfg.Bridge, Started: time.Now()})
	if err != nil {
		t.Fatal(err)
	}
	z := journal.ZeroTaken{Instrument: "bank-1", Time: time.Date(2026, 3, 9, 10, 0, 0, 0, time.UTC), Who: "lab", Why: "a test", N: 100,
		FileZeroHash: zeroing.Hash(assemble.Instrument(cfg, "bank-1"))}
	z.Low.V, z.Temperature.V = convert.Some(quantity.Millimetres(11.2)), convert.Some(quantity.Celsius(20.4))
	if _, err := j.AddZero(t.Context(), z); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	status, out, errs := ask(t, "convert", "-c", config, rows)
	if want := "bank-1: rows are converted by the zero of the file, and not by the one taken 2026-03-09T10:00:00Z by lab"; status != exitDone || !strings.Contains(errs, want) {
		t.Errorf("got status %d and %q, want %d and %q", status, errs, exitDone, want)
	}
	p, err := publish.ParsePayload([]byte(out))
	if err != nil || !p.DifferentialPressurePa.Set || math.Abs(p.DifferentialPressurePa.V) > 1e-9 {
		t.Errorf("got %s, %v, want 0 ± 1e-9 Pa", out, err)
	}
}
