package uncertainty

import "math"

// Combine gives the combined standard uncertainty of independent contributions, and its effective degrees of freedom.
//
//	u_c² = Σ d_i²          d_i = c_i·u(x_i)
//	ν    = u_c⁴ / Σ (d_i⁴/ν_i)
//
//	contrib  d_i, signed; the sign does not matter here     unit of the result
//	dof      ν_i, 1 or more, +Inf allowed; nil: all +Inf     1
//
// ν is +Inf where every contribution that is not zero has ν_i = +Inf, and is not truncated: TruncateDOF does that, and
// Coverage.K calls it. Both results are NaN where a contribution is not finite, some ν_i is below 1, or the lists differ
// in length. It holds for independent contributions only: the same input reaching the result by two ways has one entry,
// their signed sum; for other correlations use NewBudget. It allocates nothing, and is safe for concurrent use as long
// as nobody writes to the slices.
//
// Source: JCGM 100:2008, 5.1.2 equation (11a) and G.4.1 equation (G.2b).
func Combine(contrib, dof []float64) (uc, nu float64) {
	if dof != nil && len(dof) != len(contrib) {
		return math.NaN(), math.NaN()
	}
	scale := 0.0 // keeps the fourth powers from over- and underflowing
	for i, d := range contrib {
		a := math.Abs(d)
		if !(a <= math.MaxFloat64) || dof != nil && !(dof[i] >= 1) {
			return math.NaN(), math.NaN()
		}
		scale = max(scale, a)
	}
	if scale == 0 {
		return 0, math.Inf(1)
	}
	var squares, quarts float64
	for i, d := range contrib {
		r := d / scale
		q := r * r
		squares += q
		if dof != nil {
			quarts += q * q / dof[i]
		}
	}
	return scale * math.Sqrt(squares), welchSatterthwaite(squares, quarts)
}

// welchSatterthwaite gives ν_eff from Σd² and Σd⁴/ν, both in the same scaled unit.
func welchSatterthwaite(squares, quarts float64) float64 {
	if quarts == 0 {
		return math.Inf(1)
	}
	return squares * squares / quarts
}

// TruncateDOF rounds degrees of freedom down to the next lower integer, which makes the coverage factor no smaller than
// it should be. What lies a relative 1e-9 below an integer counts as that integer: so much is round-off. +Inf stays, and
// NaN stays.
//
// Source: JCGM 100:2008, G.4.1 note 1 and G.6.4 step 3.
func TruncateDOF(nu float64) float64 {
	if n := math.Round(nu); n-nu <= 1e-9*nu && n >= nu {
		return n
	}
	return math.Floor(nu)
}
