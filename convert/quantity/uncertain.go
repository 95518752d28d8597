package quantity

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// FormatWithUncertainty prints a value with its expanded uncertainty: the uncertainty to two significant digits, the value to
// the same place.
//
//	1490.1 Pa ± 3.2 Pa (k = 2.00)
//
// unit may be empty. An uncertainty of 0 leaves the value with all its digits. Where the value or the uncertainty is not
// finite, the uncertainty is negative or the coverage factor is not positive, there is nothing to state: the text is "no
// value". Source: JCGM 100:2008, 7.2.2, 7.2.4 and 7.2.6.
func FormatWithUncertainty(value, expanded, coverage float64, unit string) string {
	if !finite(value) || !finite(expanded) || expanded < 0 || !(coverage > 0) || !finite(coverage) {
		return "no value"
	}
	if unit != "" {
		unit = " " + unit
	}
	place := twoDigitPlace(expanded)
	return toPlace(value, place) + unit + " ± " + toPlace(expanded, place) + unit +
		" (k = " + strconv.FormatFloat(coverage, 'f', 2, 64) + ")"
}

// allDigits is the place of an uncertainty that is 0.
const allDigits = math.MinInt

// twoDigitPlace gives the power of ten of the second significant digit of u, after rounding to two.
func twoDigitPlace(u float64) int {
	if u == 0 {
		return allDigits
	}
	_, exponent, _ := strings.Cut(strconv.FormatFloat(u, 'e', 1, 64), "e")
	e, err := strconv.Atoi(exponent)
	if err != nil {
		return allDigits
	}
	return e - 1
}

// toPlace rounds v to a power of ten and prints it without an exponent.
func toPlace(v float64, place int) string {
	if place == allDigits {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	text := strconv.FormatFloat(v, 'f', max(-place, 0), 64)
	if place > 0 {
		power := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(place)), nil)
		tens := new(big.Rat).Quo(new(big.Rat).SetFloat64(v), new(big.Rat).SetInt(power))
		text = tens.FloatString(0) + strings.Repeat("0", place)
	}
	if strings.Trim(text, "-0.") != "" {
		return text
	}
	text = strings.TrimPrefix(text, "-") // no minus zero
	if place > 0 {
		return "0"
	}
	return text
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
