package uncertainty

import (
	"fmt"
	"math"
)

// Conformance gives the probability that the true value lies from low to high, when value ± u is known and the errors
// are normal.
//
//	p = Φ((high − y)/u) − Φ((low − y)/u)
//
//	value  y, measured value              same unit all
//	u      standard uncertainty (k = 1)   0 or more; at 0 the answer is 0 or 1, both limits inside
//	low    −Inf where there is no lower limit
//	high   +Inf where there is no upper limit
//
// A high limit below the low one, and NaN, give a *RangeError. Before use with few degrees of freedom mind that the
// normal distribution makes the tails too thin.
//
// Source: JCGM 106:2012, 7.2 to 7.4.
func Conformance(value, u, low, high float64) (float64, error) {
	if err := checkFinite("value", value); err != nil {
		return 0, err
	}
	if err := checkU("standard uncertainty", u); err != nil {
		return 0, err
	}
	if !(low <= high) {
		return 0, &RangeError{What: "upper limit", Seen: high, Allowed: fmt.Sprintf("the lower limit, %g, or more", low)}
	}
	if u == 0 {
		if value >= low && value <= high {
			return 1, nil
		}
		return 0, nil
	}
	a, b := (low-value)/u, (high-value)/u
	if a > 0 { // both in the upper tail: mirror, where Φ keeps its digits
		a, b = -b, -a
	}
	return max(0, phi(b)-phi(a)), nil
}

// phi is the distribution function of the standard normal distribution.
func phi(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
