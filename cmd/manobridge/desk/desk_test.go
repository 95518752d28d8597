package desk

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"manobridge/cmd/manobridge/layout"
	"manobridge/configs"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference")

// hall loads the configuration of the tests.
func hall(t testing.TB) *configs.Config {
	t.Helper()
	c, err := configs.Load(filepath.Join("testdata", "filter-hall.yaml"), configs.Options{SkipSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func bench(t testing.TB, name string) *Bench {
	t.Helper()
	b, err := Open(hall(t), name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func ptr(v float64) *float64 { return &v }

// near fails unless got is want within tol.
func near(t testing.TB, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %.2g (%s)", what, got, want, tol, source)
	}
}

// golden compares text with a file, and sees that it fits a terminal.
func golden(t *testing.T, name, got string) {
	t.Helper()
	for _, line := range strings.Split(got, "\n") {
		if n := utf8.RuneCountInString(line); n > layout.Width {
			t.Errorf("%s: a line of %d characters, want at most %d: %q", name, n, layout.Width, line)
		}
	}
	path := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
	}
}

// unitless are the names of numbers that have no unit, or whose unit stands beside them under "unit".
var unitless = map[string]bool{
	"coverage_factor": true, "coverage_probability": true, "share_of_variance": true, "degrees_of_freedom": true,
	"effective_degrees_of_freedom": true, "ratio_to_plain_u_tube": true, "draws": true, "first_order_validated_digits": true, "seed": true,
	"value": true, "standard_uncertainty": true, "reading": true, "reading_from": true, "reading_to": true,
}

// units are the endings that name a unit.
var units = []string{"_pa", "_mm", "_c", "_kg_m3", "_m_s2", "_hpa", "_pct", "_per_k", "_n_m3", "_deg", "_m", "_ppm", "_pa_per_unit"}

// unitsInKeys fails for a number in JSON whose key names no unit.
func unitsInKeys(t *testing.T, v any) {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	checkKeys(t, "", doc)
}

func checkKeys(t *testing.T, key string, v any) {
	t.Helper()
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			checkKeys(t, k, x)
		}
	case []any:
		for _, x := range v {
			checkKeys(t, key, x)
		}
	case float64:
		named := unitless[key]
		for _, u := range units {
			named = named || strings.HasSuffix(key, u)
		}
		if !named {
			t.Errorf("the number under %q has no unit in its key", key)
		}
	case nil:
		t.Errorf("%q is null; absent numbers are left out", key)
	}
}

func TestOpenNamesTheInstrumentsThereAre(t *testing.T) {
	_, err := Open(hall(t), "panel")
	if err == nil || !strings.Contains(err.Error(), "panel-test") {
		t.Errorf("got %v, want the names there are", err)
	}
}
