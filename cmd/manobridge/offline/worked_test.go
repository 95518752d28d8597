package offline

import (
	"encoding/csv"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
)

// converters builds every instrument of a configuration.
func converters(t *testing.T, path string) map[string]*convert.Converter {
	t.Helper()
	c, err := configs.Load(path, configs.Options{SkipSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]*convert.Converter{}
	for i := range c.Instruments {
		if all[c.Instruments[i].Name], err = assemble.Converter(c, &c.Instruments[i]); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// Each case under testdata/convert was worked by hand arithmetic, written out in its NOTE.md, apart from this program.
// Its tolerances: pressures to 1e-8 of the value or 1e-6 Pa (the rounded constant 0.3780 of the air equation against
// the exact ratio of molar masses), heads to 1e-7 mm, combined uncertainties to 0.5 %.
func TestWorkedByHand(t *testing.T) {
	cases, err := filepath.Glob("../../../testdata/convert/*/want.csv")
	if err != nil || len(cases) < 4 {
		t.Fatalf("got %d cases (%v), want at least 4", len(cases), err)
	}
	for _, want := range cases {
		dir := filepath.Dir(want)
		t.Run(filepath.Base(dir), func(t *testing.T) {
			f, err := os.Open(filepath.Join(dir, "readings.csv"))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			rows, err := NewReader(f, converters(t, filepath.Join(dir, "config.yaml")))
			if err != nil {
				t.Fatal(err)
			}
			header, records := table(t, want)
			for _, record := range records {
				row, err := rows.Next()
				if err != nil {
					t.Fatal(err)
				}
				if row.Result.Refusal != nil {
					t.Fatalf("row %d: got a refusal: %v", row.Number, row.Result.Refusal)
				}
				pressure, _ := row.Result.Pressure()
				for i, name := range header {
					if record[i] == "" {
						continue
					}
					v, err := strconv.ParseFloat(record[i], 64)
					if err != nil {
						t.Fatal(err)
					}
					got, tol := 0.0, 0.0
					switch name {
					case "row":
						got = float64(row.Number)
					case "differential_pressure_pa":
						got, tol = pressure, max(1e-6, 1e-8*math.Abs(v))
					case "head_mm":
						got, tol = row.Result.Head.V.Millimetres(), 1e-7
					case "combined_uncertainty_pa":
						got, tol = row.Result.CombinedU, 5e-3*v
					default:
						t.Fatalf("column %q has no check", name)
					}
					if math.Abs(got-v) > tol {
						t.Errorf("row %d, %s: got %v, want %v ± %v (worked by hand, NOTE.md)", row.Number, name, got, v, tol)
					}
				}
			}
			if _, err := rows.Next(); !errors.Is(err, io.EOF) {
				t.Errorf("got more rows than %d expected", len(records))
			}
		})
	}
}

func table(t *testing.T, path string) (header []string, records [][]string) {
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
	return all[0], all[1:]
}
