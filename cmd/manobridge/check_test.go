package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "rewrite golden files; read the difference")

// check prints each example as a person reads it: golden, within 80 columns.
func TestCheckPrintsTheExamples(t *testing.T) {
	for _, name := range []string{"filter-bench", "limb-pair", "every-kind", "room-channels"} {
		t.Run(name, func(t *testing.T) {
			var out, errs bytes.Buffer
			status := executeContext(t.Context(), []string{"check", "-c", filepath.Join(repository, "configs", name+".example.yaml")}, streams{strings.NewReader(""), &out, &errs})
			if status != exitDone {
				t.Fatalf("got status %d: %s", status, errs.String())
			}
			for _, line := range strings.Split(out.String(), "\n") {
				if n := utf8.RuneCountInString(line); n > 80 {
					t.Errorf("got a line of %d characters, want at most 80: %q", n, line)
				}
			}
			golden := filepath.Join("testdata", "check-"+name+".txt")
			if *update {
				if err := os.MkdirAll("testdata", 0o755); err != nil {
					t.Fatal(err)
				}
				writeFile(t, golden, out.String())
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if out.String() != string(want) {
				t.Errorf("got\n%s\nwant\n%s", out.String(), want)
			}
		})
	}
}

// The numbers of check against the formula on paper: an inclined reservoir moves 1/((ρ − ρ_air) g (sin θ + a/A)) along
// its tube. ρ_air = 1.1353 kg/m³ at 21 °C, 962 hPa, 40 % by CIPM-2007 (evaluated apart: p M / (Z R T) (1 − 0.3780 x_v)),
// g = 9.80708 m/s² (WGS 84, 47.37°, 408 m), ρ = 829.718 kg/m³ at 20.4 °C.
func TestCheckSensitivity(t *testing.T) {
	var out, errs bytes.Buffer
	status := executeContext(t.Context(), []string{"check", "--json", "-c", filepath.Join(repository, "configs", "filter-bench.example.yaml")}, streams{strings.NewReader(""), &out, &errs})
	if status != exitDone {
		t.Fatalf("got status %d: %s", status, errs.String())
	}
	var sheet struct {
		Instruments []struct {
			Instrument  string
			Sensitivity float64 `json:"sensitivity_mm_per_pa"`
		}
	}
	if err := json.Unmarshal(out.Bytes(), &sheet); err != nil {
		t.Fatal(err)
	}
	want := 1000 / ((829.718 - 1.1353) * 9.80708 * (math.Sin(11.54*math.Pi/180) + 0.01))
	if got := sheet.Instruments[0]; got.Instrument != "hepa-bank-2" || math.Abs(got.Sensitivity/want-1) > 1e-5 {
		t.Errorf("got %v mm/Pa of %s, want %v ± 1e-5 of it", got.Sensitivity, got.Instrument, want)
	}
}

// A configuration with mistakes: every one named with its line, status 3, nothing printed as if it were well.
func TestCheckNamesEveryMistake(t *testing.T) {
	file := filepath.Join(t.TempDir(), "bench.yaml")
	text, err := os.ReadFile(filepath.Join(repository, "configs", "filter-bench.example.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	spoiled := strings.NewReplacer("density_kg_m3: 830.0", "density_kg_m3: 0.83", "slope_deg: 11.54", "slope: 11.54", "reservoir_bore_mm: 40.0", "reservoir_bore_mm: 2.0",
		`address: "03"`, `address: "02"`).Replace(string(text))
	writeFile(t, file, spoiled)
	var out, errs bytes.Buffer
	if status := executeContext(t.Context(), []string{"check", "-c", file}, streams{strings.NewReader(""), &out, &errs}); status != exitNo {
		t.Errorf("got status %d, want %d", status, exitNo)
	}
	for _, says := range []string{"500 to 14000 kg/m³", "slope_deg", "reservoir_bore_mm", `"02"`, "line "} {
		if !strings.Contains(errs.String(), says) {
			t.Errorf("got %q, want it to say %q", errs.String(), says)
		}
	}
	if out.Len() != 0 {
		t.Errorf("got %q printed beside the mistakes", out.String())
	}
}
