package quantity

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFormatWithUncertainty(t *testing.T) {
	for _, tc := range []struct {
		value, u, k float64
		unit, want  string
	}{
		// The second is the 100 g mass of JCGM 100:2008, 7.2.4 (U = 0.79 mg, k = 2.26; from memory).
		{1490.1234, 3.2499, 2, "Pa", "1490.1 Pa ± 3.2 Pa (k = 2.00)"},
		{100.02147, 0.00079, 2.26, "g", "100.02147 g ± 0.00079 g (k = 2.26)"},
		{123.456, 0.0996, 2, "Pa", "123.46 Pa ± 0.10 Pa (k = 2.00)"},
		{123.456, 9.96, 2, "Pa", "123 Pa ± 10 Pa (k = 2.00)"},
		{101325, 320, 2, "Pa", "101330 Pa ± 320 Pa (k = 2.00)"},
		{600, 32000, 2, "Pa", "1000 Pa ± 32000 Pa (k = 2.00)"},
		{400, 32000, 2, "Pa", "0 Pa ± 32000 Pa (k = 2.00)"},
		{-0.001, 0.32, 2, "Pa", "0.00 Pa ± 0.32 Pa (k = 2.00)"},
		{-12.345, 0.032, 1.96, "Pa", "-12.345 Pa ± 0.032 Pa (k = 1.96)"},
		{12.5, 0, 2, "Pa", "12.5 Pa ± 0 Pa (k = 2.00)"},
		{0, 0.5, 2, "", "0.00 ± 0.50 (k = 2.00)"},
		{math.NaN(), 1, 2, "Pa", "no value"},
		{1, math.Inf(1), 2, "Pa", "no value"},
		{1, -1, 2, "Pa", "no value"},
		{1, 1, 0, "Pa", "no value"},
		{1, 1, math.NaN(), "Pa", "no value"},
	} {
		if got := FormatWithUncertainty(tc.value, tc.u, tc.k, tc.unit); got != tc.want {
			t.Errorf("%v ± %v: got %q, want %q", tc.value, tc.u, got, tc.want)
		}
	}
}

// What is printed is the value within half a unit of the last place, and the uncertainty within 5 %.
func TestFormatWithUncertaintyLosesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		v := rapid.Float64Range(-1e9, 1e9).Draw(rt, "value")
		u := math.Pow(10, rapid.Float64Range(-9, 9).Draw(rt, "log u"))
		text := FormatWithUncertainty(v, u, 2, "Pa")
		parts := strings.Split(strings.TrimSuffix(text, " (k = 2.00)"), " Pa ± ")
		if len(parts) != 2 {
			rt.Fatalf("%v ± %v: got %q", v, u, text)
		}
		gotV, err1 := strconv.ParseFloat(parts[0], 64)
		gotU, err2 := strconv.ParseFloat(strings.TrimSuffix(parts[1], " Pa"), 64)
		if err1 != nil || err2 != nil || math.Abs(gotU/u-1) > 0.0501 || math.Abs(gotV-v) > 0.0501*u {
			rt.Fatalf("%v ± %v: got %q", v, u, text)
		}
	})
}
