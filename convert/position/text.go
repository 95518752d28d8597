package position

import "strconv"

// text writes a number with its unit for a refusal.
func text(v float64, unit string) string {
	s := strconv.FormatFloat(v, 'g', 6, 64)
	if unit == "" {
		return s
	}
	return s + " " + unit
}

func span(a, b float64, unit string) string {
	if a > b {
		a, b = b, a
	}
	return text(a, "") + " to " + text(b, unit)
}
