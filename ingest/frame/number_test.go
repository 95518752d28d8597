package frame

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// The library's ParseFloat is correctly rounded (IEEE 754-2019, 5.12.2); every decimal number it is given here must come
// out the same.
func TestParseNumberIsCorrectlyRounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[+-]?([0-9]{1,25}(\.[0-9]{0,20})?|\.[0-9]{1,20})([eE][+-]?[0-9]{1,2})?`).Draw(t, "text")
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Skip(err)
		}
		got, rest, bad := parseNumber([]byte(text), '.')
		if bad != sound || len(rest) > 0 || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: got %v, rest %q, fault %d, want %v", text, got, rest, bad, want)
		}
	})
}

func TestParseNumberLeavesTheRest(t *testing.T) {
	for _, tt := range []struct {
		text string
		want float64
		rest string
	}{
		{"12mm", 12, "mm"}, {"12E", 12, "E"}, {"12e+", 12, "e+"}, {"5.", 5, ""}, {".5", 0.5, ""}, {"-0", 0, ""}, {"0001.50", 1.5, ""}, {"7 °", 7, " °"},
		{"0e999", 0, ""}, {"1e-9999", 0, ""},
	} {
		got, rest, bad := parseNumber([]byte(tt.text), '.')
		if bad != sound || got != tt.want || string(rest) != tt.rest {
			t.Errorf("%q: got %v, rest %q, fault %d; want %v, rest %q", tt.text, got, rest, bad, tt.want, tt.rest)
		}
	}
}
