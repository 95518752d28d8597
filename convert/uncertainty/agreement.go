package uncertainty

import "math"

// Agreement compares the interval of a first-order budget with that of a Monte Carlo run.
type Agreement struct {
	Tolerance     float64 // δ, half a unit of the last kept digit of u_c
	LowDeviation  float64 // |(y − U) − Low|
	HighDeviation float64 // |(y + U) − High|
	Validated     bool    // both deviations are at most δ
	Digits        int     // significant digits kept of u_c
}

// Agree tells whether the first-order interval y ± U agrees with the probabilistically symmetric Monte Carlo interval of
// the same coverage probability, when u_c is kept to so many significant digits (1 or 2).
//
// Where it does not, the Monte Carlo interval is the one to state. The run should be long enough for its interval ends
// to be settled to δ/5, as PropagateSettled sees to; a short run fails by noise. A u_c of 0, or numbers not finite, give a *RangeError.
//
// Source: JCGM 101:2008, 8.1.3 and 7.9.2.
func Agree(y, combinedU, expandedU float64, mc Estimate, digits int) (Agreement, error) {
	for _, v := range []float64{y, expandedU, mc.Low, mc.High} {
		if err := checkFinite("end of an interval", v); err != nil {
			return Agreement{}, err
		}
	}
	if digits < 1 || digits > 2 {
		return Agreement{}, &RangeError{What: "significant digits of the uncertainty", Seen: float64(digits), Allowed: "1 or 2"}
	}
	exponent, err := lastPlace(combinedU, digits)
	if err != nil {
		return Agreement{}, err
	}
	a := Agreement{
		Tolerance:     math.Pow10(exponent) / 2,
		LowDeviation:  math.Abs(y - expandedU - mc.Low),
		HighDeviation: math.Abs(y + expandedU - mc.High),
		Digits:        digits,
	}
	a.Validated = a.LowDeviation <= a.Tolerance && a.HighDeviation <= a.Tolerance
	return a, nil
}

// NumericalTolerance gives δ, half a unit of the last digit of u when 1 or 2 significant digits of it are kept. A u of 0,
// or not finite, gives a *RangeError.
//
// Source: JCGM 101:2008, 7.9.2.
func NumericalTolerance(u float64, digits int) (float64, error) {
	if digits < 1 || digits > 2 {
		return 0, &RangeError{What: "significant digits of the uncertainty", Seen: float64(digits), Allowed: "1 or 2"}
	}
	exponent, err := lastPlace(u, digits)
	if err != nil {
		return 0, err
	}
	return math.Pow10(exponent) / 2, nil
}

// lastPlace gives the power of ten of the last digit of u when it is rounded to so many significant digits.
func lastPlace(u float64, digits int) (int, error) {
	if !finite(u) || u <= 0 {
		return 0, &RangeError{What: "standard uncertainty", Seen: u, Allowed: "above 0, finite"}
	}
	l := int(math.Floor(math.Log10(u))) - digits + 1
	if math.Round(u/math.Pow10(l)) >= math.Pow10(digits) { // 0.0996 rounds up to 0.10
		l++
	}
	return l, nil
}
