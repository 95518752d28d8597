package uncertainty

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// DefaultP is the coverage probability used unless another is asked for: that of two standard deviations of a normal
// distribution, 95.45 %, so that k is exactly 2 at infinite degrees of freedom. Value: erf(√2), exact to the last bit.
// Source for the choice: JCGM 100:2008, G.1.3 table G.1 and table G.2, column 95,45.
const DefaultP = 0.9544997361036416

// tableDOF is where the table of quantiles ends and the expansion in 1/ν begins. There the expansion is good to 1e-9.
const tableDOF = 200

// Coverage gives the coverage factor of one coverage probability for any degrees of freedom. Its quantiles are computed
// once, by NewCoverage; it never changes afterwards and is safe for concurrent use. The zero value answers NaN.
type Coverage struct {
	p        float64
	table    []float64  // [ν] for whole ν from 1 to tableDOF; [0] unused
	infinite float64    // ν = +Inf
	series   [4]float64 // coefficients of ν^-1 to ν^-4
}

// NewCoverage prepares the coverage factors for the two-sided coverage probability p, 0.5 to 0.9999.
// Outside, and for NaN, it returns a *RangeError.
func NewCoverage(p float64) (*Coverage, error) {
	if !(p >= 0.5 && p <= 0.9999) {
		return nil, &RangeError{What: "coverage probability", Seen: p, Allowed: "0.5 to 0.9999"}
	}
	c := &Coverage{p: p, table: make([]float64, tableDOF+1), infinite: math.Sqrt2 * math.Erfinv(p)}
	for n := 1; n <= tableDOF; n++ {
		c.table[n] = distuv.StudentsT{Sigma: 1, Nu: float64(n)}.Quantile((1 + p) / 2)
	}
	// Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.5.
	x := c.infinite
	x2 := x * x
	c.series = [4]float64{
		x * (x2 + 1) / 4,
		x * ((5*x2+16)*x2 + 3) / 96,
		x * (((3*x2+19)*x2+17)*x2 - 15) / 384,
		x * ((((79*x2+776)*x2+1482)*x2-1920)*x2 - 945) / 92160,
	}
	return c, nil
}

// P gives the coverage probability.
func (c *Coverage) P() float64 { return c.p }

// K gives the coverage factor k = t_p(ν): the fraction p of Student's distribution lies within ±k.
//
//	nu  effective degrees of freedom, 1 or more, +Inf allowed; truncated here by TruncateDOF
//
// Below 1, and for NaN, no factor exists and it returns NaN. It allocates nothing.
//
// Source: JCGM 100:2008, G.3.2 and G.6.4.
func (c *Coverage) K(nu float64) float64 {
	n := TruncateDOF(nu)
	switch {
	case !(n >= 1) || len(c.table) == 0:
		return math.NaN()
	case n <= tableDOF:
		return c.table[int(n)]
	}
	r := 1 / n // 0 at +Inf
	return c.infinite + r*(c.series[0]+r*(c.series[1]+r*(c.series[2]+r*c.series[3])))
}
