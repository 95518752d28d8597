package uncertainty

import (
	"math"
	"strconv"
)

// Statement writes a value with its expanded uncertainty to two significant digits, the value to the same place, and
// the coverage factor: "1490.1 Pa ± 3.2 Pa (k = 2.00)". Where the uncertainty is 0 or not finite both numbers are
// written as they are, for there is no place to round to.
//
// Source: JCGM 100:2008, 7.2.4 and 7.2.6.
func Statement(value, expandedU, k float64, unit string) string {
	v, u := Rounded(value, expandedU)
	return v + " " + unit + " ± " + u + " " + unit + " (k = " + strconv.FormatFloat(k, 'f', 2, 64) + ")"
}

// Rounded gives the two numbers of Statement: u to two significant digits, the value to the same place.
func Rounded(value, u float64) (v, unc string) {
	place, err := lastPlace(u, 2)
	if err != nil || !finite(value) {
		return strconv.FormatFloat(value, 'g', -1, 64), strconv.FormatFloat(u, 'g', -1, 64)
	}
	if place > 0 {
		step := math.Pow10(place)
		value, u = math.Round(value/step)*step, math.Round(u/step)*step
	}
	decimals := max(0, -place)
	v = strconv.FormatFloat(value, 'f', decimals, 64)
	if rounded, err := strconv.ParseFloat(v, 64); err == nil && rounded == 0 {
		v = strconv.FormatFloat(0, 'f', decimals, 64) // no "-0.00"
	}
	return v, strconv.FormatFloat(u, 'f', decimals, 64)
}
