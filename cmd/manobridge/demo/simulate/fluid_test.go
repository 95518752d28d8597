package simulate

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// table reads a CSV of numbers with a source in the last column.
func table(t *testing.T, path string) (rows [][]float64, sources []string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range all[1:] {
		row := make([]float64, len(line)-1)
		for i := range row {
			if row[i], err = strconv.ParseFloat(line[i], 64); err != nil {
				t.Fatalf("%s: %v", path, err)
			}
		}
		rows, sources = append(rows, row), append(sources, line[len(line)-1])
	}
	if len(rows) < 5 {
		t.Fatalf("%s: got %d rows, want at least 5", path, len(rows))
	}
	return rows, sources
}

func TestWaterAgainstIAPWS95(t *testing.T) {
	rows, sources := table(t, "testdata/water_density.csv")
	for i, r := range rows {
		// 10 ppm: what the water of a bench is good for.
		if got, want := kellWater(r[0]), r[1]; math.Abs(got/want-1) > 10e-6 {
			t.Errorf("water at %g °C: got %.4f kg/m³, want %.4f ± %.4f (%s)", r[0], got, want, want*10e-6, sources[i])
		}
	}
}

func TestAirAgainstCIPM2007(t *testing.T) {
	rows, sources := table(t, "testdata/air_density.csv")
	for i, r := range rows {
		if got, want := moistAir(r[0], r[1], r[2]), r[3]; math.Abs(got/want-1) > 1e-4 {
			t.Errorf("air at %g °C, %g Pa, %g: got %.6f kg/m³, want %.6f ± %.6f (%s)", r[0], r[1], r[2], got, want, want*1e-4, sources[i])
		}
	}
}
