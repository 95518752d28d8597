package uncertainty

import (
	"math"
	"slices"
)

// PropagateSettled draws in batches until mean, standard uncertainty and both ends of the symmetric interval are settled
// to tolerance, with two standard errors of their own, or MaxDraws is reached: settled is then false, and the estimate
// is what so many draws gave.
//
//	pairs      correlations of normal inputs, nil for none
//	tolerance  absolute, above 0, unit of the result; NumericalTolerance for a statement, a fifth of it for Agree
//
// Otherwise as Propagate.
//
// Source: JCGM 101:2008, 7.9.4.
func PropagateSettled(model Model, inputs []Distribution, pairs []Correlation, seed uint64, p, tolerance float64) (e Estimate, settled bool, err error) {
	if !(tolerance > 0) {
		return Estimate{}, false, &RangeError{What: "tolerance of a Monte Carlo run", Seen: tolerance, Allowed: "above 0"}
	}
	r, err := newRun(model, inputs, pairs, seed, p)
	if err != nil {
		return Estimate{}, false, err
	}
	batch := max(10_000, int(math.Ceil(100/(1-p)))) // 7.9.4 a
	var all []float64
	var seen [4][]float64 // mean, u, low, high of each batch
	for !settled && len(all)+batch <= MaxDraws {
		values := make([]float64, batch)
		if err := r.fill(values); err != nil {
			return Estimate{}, false, err
		}
		all = append(all, values...)
		b := summarize(values, p)
		for i, v := range [4]float64{b.Mean, b.StdU, b.Low, b.High} {
			seen[i] = append(seen[i], v)
		}
		settled = len(seen[0]) >= 2 && !slices.ContainsFunc(seen[:], func(v []float64) bool {
			_, s := meanAndDeviation(v)
			return 2*s/math.Sqrt(float64(len(v))) > tolerance
		})
	}
	return summarize(all, p), settled, nil
}
