package uncertainty

import "math"

// Sample is what repeated observations of one quantity say about it.
type Sample struct {
	N    int
	Mean float64
	S    float64 // experimental standard deviation of one observation
	U    float64 // standard uncertainty of the mean, S/√N
	DOF  float64 // N − 1
}

// Mean evaluates at least two independent observations. Fewer, or one that is not finite, give a *RangeError.
// Observations that depend on each other (a drifting zero, readings faster than the column settles) make U too small.
//
// Source: JCGM 100:2008, 4.2.1 to 4.2.3, equations (3) to (5).
func Mean(x []float64) (Sample, error) {
	if len(x) < 2 {
		return Sample{}, &RangeError{What: "number of observations", Seen: float64(len(x)), Allowed: "2 or more"}
	}
	for _, v := range x {
		if err := checkFinite("observation", v); err != nil {
			return Sample{}, err
		}
	}
	n := float64(len(x))
	mean, s := meanAndDeviation(x)
	if !finite(mean) || !finite(s) {
		return Sample{}, &RangeError{What: "spread of the observations", Seen: s, Allowed: "a finite number"}
	}
	return Sample{N: len(x), Mean: mean, S: s, U: s / math.Sqrt(n), DOF: n - 1}, nil
}

// meanAndDeviation works in two passes with the correction of Chan, Golub and LeVeque, The American Statistician 37
// (1983) 242, so that a small spread on a large value survives.
func meanAndDeviation(x []float64) (mean, s float64) {
	n := float64(len(x))
	for _, v := range x {
		mean += v / n
	}
	var sum, squares float64
	for _, v := range x {
		d := v - mean
		sum += d
		squares += d * d
	}
	mean += sum / n
	return mean, math.Sqrt(max(squares-sum*sum/n, 0) / (n - 1))
}

// ReliabilityDOF gives the degrees of freedom of a standard uncertainty that was judged and not observed, from how far
// the judgement itself may be off: relative 0.25 for "good to a quarter". Over 0 up to 1/√2, where ν falls to 1; outside
// it returns a *RangeError.
//
//	ν ≈ ½ (Δu/u)⁻²
//
// Source: JCGM 100:2008, G.4.2 equation (G.3).
func ReliabilityDOF(relative float64) (float64, error) {
	if !(relative > 0 && relative <= math.Sqrt2/2) {
		return 0, &RangeError{What: "relative uncertainty of an uncertainty", Seen: relative, Allowed: "above 0, up to 0.7071"}
	}
	return max(1, 0.5/(relative*relative)), nil
}
