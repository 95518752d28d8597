package configs

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// keyUnits are the unit endings of our keys with the symbol people read, longest first.
var keyUnits = []struct{ ending, symbol string }{
	{"_k_per_h", "K/h"}, {"_per_k2", "1/K²"}, {"_kg_m3", "kg/m³"}, {"_per_k", "1/K"}, {"_per_s", "1/s"}, {"_m_s2", "m/s²"}, {"_ratio", ""},
	{"_hpa", "hPa"}, {"_kpa", "kPa"}, {"_pct", "%"}, {"_deg", "°"}, {"_px", "px"}, {"_n_m", "N/m"}, {"_ml", "mL"}, {"_mm", "mm"},
	{"_pa", "Pa"}, {"_c", "°C"}, {"_m", "m"},
}

// foreignUnits are unit endings people write that are not ours.
var foreignUnits = []string{
	"_g_cm3", "_g_ml", "_lb_ft3", "_inches", "_degrees", "_degree", "_celsius", "_kelvin", "_percent", "_radians",
	"_mmhg", "_mbar", "_inch", "_ppm", "_rad", "_bar", "_psi", "_cm3", "_cm", "_in", "_um", "_ft", "_km", "_mn_m",
	"_k", "_f", "_l", "_s", "_ms", "_g",
}

// unitOf gives the symbol of the unit a key ends in, empty where it has none.
func unitOf(key string) string {
	for _, u := range keyUnits {
		if strings.HasSuffix(key, u.ending) {
			return u.symbol
		}
	}
	return ""
}

// baseOf gives a key without its unit, ours or a foreign one.
func baseOf(key string) string {
	for _, u := range keyUnits {
		if base, ok := strings.CutSuffix(key, u.ending); ok && base != "" {
			return base
		}
	}
	for _, ending := range foreignUnits {
		if base, ok := strings.CutSuffix(key, ending); ok && base != "" {
			return base
		}
	}
	return key
}

// otherUnit is a unit a number was perhaps typed in: value·factor + offset is the same in ours.
type otherUnit struct {
	name           string
	factor, offset float64
}

// otherUnits lists them by our unit, the likelier first. Factors: exact by definition or to the digits of
// NIST Special Publication 811 (2008), appendix B.
var otherUnits = map[string][]otherUnit{
	"kg/m³": {{"g/cm³", 1000, 0}, {"lb/ft³", 16.01846, 0}},
	"mm":    {{"cm", 10, 0}, {"inch", 25.4, 0}, {"m", 1000, 0}, {"µm", 0.001, 0}},
	"m":     {{"km", 1000, 0}, {"ft", 0.3048, 0}},
	"°C":    {{"K", 1, -273.15}, {"°F", 5.0 / 9, -160.0 / 9}},
	"hPa":   {{"mmHg", 1.333224, 0}, {"Pa", 0.01, 0}, {"kPa", 10, 0}, {"inHg", 33.86389, 0}, {"bar", 1000, 0}},
	"kPa":   {{"hPa", 0.1, 0}, {"Pa", 0.001, 0}},
	"Pa":    {{"mPa", 0.001, 0}},
	"1/K":   {{"10⁻⁶/K", 1e-6, 0}, {"%/K", 0.01, 0}},
	"N/m":   {{"mN/m", 0.001, 0}},
	"m/s²":  {{"Gal, cm/s²", 0.01, 0}},
	"mL":    {{"µL", 0.001, 0}},
	"%":     {},
}

// likelyUnits names units in which a value outside the range would be inside it, two at most.
func (b bound) likelyUnits(v float64) []string {
	var out []string
	for _, u := range otherUnits[b.unit] {
		if len(out) < 2 && v != 0 && b.holds(v*u.factor+u.offset) {
			out = append(out, u.name)
		}
	}
	return out
}

// boundEnd reads one end of a range tag, a duration in seconds where it has a unit.
func boundEnd(s string) float64 {
	if v, err := strconv.ParseFloat(s, 64); err == nil {
		return v
	}
	if d, err := time.ParseDuration(s); err == nil {
		return d.Seconds()
	}
	return math.NaN()
}

// number writes a number as short as it can be read back.
func number(v float64) string {
	if a := math.Abs(v); a != 0 && (a < 1e-5 || a >= 1e9) {
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// withUnit writes a number with its unit, tight where the trade writes it so.
func withUnit(v float64, unit string) string {
	if unit == "" || slices.Contains([]string{"°"}, unit) {
		return number(v) + unit
	}
	return number(v) + " " + unit
}
