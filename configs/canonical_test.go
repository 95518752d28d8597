package configs

import (
	"strings"
	"testing"
)

const oil = `liquids:
  pale-oil: {density_kg_m3: 830, reference_c: 20, expansion_per_k: 0.00085}
  other-oil: {density_kg_m3: 840, reference_c: 20, expansion_per_k: 0.00085}
`

// TestCanonical changes exactly when what decides a pressure changes.
func TestCanonical(t *testing.T) {
	base := oil + strings.Replace(minimal, "liquid: water", "liquid: pale-oil", 1)
	canonical := func(text string) string {
		t.Helper()
		got, err := parsed(t, text).Canonical("hepa-bank-2")
		if err != nil {
			t.Fatal(err)
		}
		return string(got)
	}
	want := canonical(base)
	for name, c := range map[string]struct {
		old, new string
		same     bool
	}{
		"layout":         {"zero: {low_mm: 10.2, temperature_c: 20.4}", "zero:\n      temperature_c: 20.40 # soaked\n      low_mm: 1.02e1", true},
		"port":           {"/dev/ttyUSB0", "/dev/ttyUSB1", true},
		"baud":           {"9600", "19200", true},
		"other liquid":   {"840", "841", true},
		"liquid":         {"830", "831", false},
		"slope":          {"11.54", "11.55", false},
		"zero":           {"low_mm: 10.2", "low_mm: 10.3", false},
		"gravity":        {"47.37", "47.38", false},
		"ambient":        {"962.0", "963.0", false},
		"exact":          {"    zero:", "    uncertainty: {zero_mm: 0}\n    zero:", false},
		"stated default": {"reference_c: 20, expansion_per_k: 0.00085}\n  other", "reference_c: 20, expansion_per_k: 0.00085, expansion_form: linear}\n  other", true},
	} {
		if !strings.Contains(base, c.old) {
			t.Fatalf("%s: no %q in the file", name, c.old)
		}
		got := canonical(strings.Replace(base, c.old, c.new, 1))
		if (got == want) != c.same {
			t.Errorf("%s: got %s, against %s: want the same: %v", name, got, want, c.same)
		}
	}
	if _, err := parsed(t, base).Canonical("hepa-bank-9"); err == nil {
		t.Error("got no error, want one for an instrument that is not there")
	}
}
