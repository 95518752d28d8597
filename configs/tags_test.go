package configs

import (
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

// TestTags holds our own tags against their grammar, as the walker trusts them.
func TestTags(t *testing.T) {
	grammar := regexp.MustCompile(`^[\[(][^,]+,[^,]+[\])]$`)
	kinds := append(blockFields[Geometry]()[0].words("enum", "|"), blockFields[Frame]()[0].words("enum", "|")...)
	kinds = append(kinds, AskModbusRTU, AskLines)
	kinds = append(kinds, blockFields[LimbSignal]()[0].words("enum", "|")...)
	keys := regexp.MustCompile(`^[a-z0-9]+(_[a-z0-9]+)*$`)
	for typ := range blocks(generate(t)) {
		for _, f := range fieldsOf(typ) {
			where := typ.Name() + "." + f.key
			if !keys.MatchString(f.key) {
				t.Errorf("%s: got that key, want lower case and underscores", where)
			}
			for _, part := range f.words("range", ";") {
				b := parseBound(part, "")
				if !grammar.MatchString(part) || math.IsNaN(b.low) || math.IsNaN(b.high) || b.low >= b.high {
					t.Errorf("%s: got range %q, want [low,high]", where, part)
				}
			}
			for _, user := range f.words("only", ",") {
				if !strings.Contains(strings.Join(kinds, " ")+" ", user+" ") {
					t.Errorf("%s: got only %q, want a kind, a format or a protocol", where, user)
				}
			}
			number := f.typ == reflect.TypeFor[*float64]() || f.typ == reflect.TypeFor[*[2]float64]()
			if number && f.tag.Get("range") == "" {
				t.Errorf("%s: got no range, want every number to have one", where)
			}
			unitless := []string{"scale", "reading", "zero_reading", "step", "min_score"} // in the unit of the engraved scale, of the signal, of the camera
			if number && unitOf(f.key) == "" && !strings.HasSuffix(f.key, "_ratio") && !strings.HasSuffix(f.key, "_fraction") && !strings.Contains(strings.Join(unitless, " "), f.key) {
				t.Errorf("%s: got no unit in the key, want one", where)
			}
		}
	}
}

// TestEveryInputHasAnUncertainty wants each number of each kind's geometry to have a key of the same name to state its
// standard uncertainty with, or to be known not to need one.
func TestEveryInputHasAnUncertainty(t *testing.T) {
	elsewhere := map[string]string{
		"scale_mm": "a limit, not an input", "scale": "a limit, not an input", "points": "point_along_mm and point_height_mm",
		"scale_reference_c": "belongs to the expansion of the scale",
	}
	has := map[string]field{}
	for _, f := range blockFields[Uncertainty]() {
		has[f.key] = f
	}
	for _, f := range append(blockFields[Geometry](), blockFields[Limb]()...) {
		if f.typ != reflect.TypeFor[*float64]() && f.typ != reflect.TypeFor[*[2]float64]() || elsewhere[f.key] != "" {
			continue
		}
		u, ok := has[f.key]
		if !ok {
			t.Errorf("%s: got no uncertainty key, want one of the same name", f.key)
			continue
		}
		for _, kind := range f.words("only", ",") {
			if users := u.words("only", ","); users != nil && !strings.Contains(","+strings.Join(users, ",")+",", ","+kind+",") {
				t.Errorf("%s: got no uncertainty for kind %s, want one", f.key, kind)
			}
		}
	}
}

// TestDistance against worked cases: one edit each, and the classic three of kitten and sitting (Levenshtein distance as
// printed in many texts; from memory).
func TestDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{
		{"kitten", "sitting", 3}, {"slope_deg", "slpoe_deg", 1}, {"baud", "baud", 0}, {"", "abc", 3}, {"qos", "qoss", 1}, {"ca", "abc", 3},
	} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%q to %q: got %d, want %d", c.a, c.b, got, c.want)
		}
	}
}
