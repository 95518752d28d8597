package uncertainty

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Basis says where the uncertainty of a fit comes from. The two answer different questions and must not be mixed up.
type Basis uint8

// The two bases. The zero value is neither, and is refused.
const (
	// ResidualScaled takes the stated uncertainties of the points as relative weights only and their size from the
	// scatter about the fit. It is the only one there is where no uncertainties are stated.
	ResidualScaled Basis = iota + 1
	// APriori takes the stated uncertainties as they are. The scatter then only tells whether they can be believed:
	// Regression.ChiSquaredP.
	APriori
)

// String names the basis in words.
func (b Basis) String() string {
	switch b {
	case ResidualScaled:
		return "from the residuals"
	case APriori:
		return "a priori"
	}
	return "not stated"
}

// Regression is the outcome of a least-squares fit.
type Regression struct {
	Coefficients []float64   // of 1, x1, x2, … or of 1, x, x², …
	Covariance   [][]float64 // of the coefficients, on the Basis
	Basis        Basis

	N           int
	ResidualDOF int     // points less coefficients; 0 where the fit goes through every point
	ResidualSS  float64 // Σ r², or χ² = Σ (r/u)² where uncertainties were given
	ResidualSD  float64 // √(ResidualSS/ResidualDOF); NaN at 0 degrees of freedom
}

// U gives the standard uncertainty of coefficient i.
func (r Regression) U(i int) float64 { return math.Sqrt(r.Covariance[i][i]) }

// DOF gives the degrees of freedom of the uncertainties: those of the residuals, or +Inf a priori.
func (r Regression) DOF() float64 {
	if r.Basis == APriori {
		return math.Inf(1)
	}
	return float64(r.ResidualDOF)
}

// ChiSquaredP gives the probability that points whose uncertainties are as stated, and that do lie on the curve, scatter
// as much as these or more. Below 0.05 the uncertainties or the curve should be doubted. NaN without stated
// uncertainties (ResidualSS is then no χ²; the caller knows) and at 0 degrees of freedom.
//
// Source: ISO/TS 28037:2010, 6.3.
func (r Regression) ChiSquaredP() float64 {
	if r.ResidualDOF < 1 || r.Basis != APriori {
		return math.NaN()
	}
	return distuv.ChiSquared{K: float64(r.ResidualDOF)}.Survival(r.ResidualSS)
}

// maxCondition is the condition number of the scaled design beyond which the data do not fix the coefficients: twelve
// of float64's sixteen digits would be lost.
const maxCondition = 1e12

// FitLinear fits y = b0 + b1·x1 + b2·x2 + … by least squares, by QR decomposition of centred and scaled columns.
//
//	columns  x1, x2, …, each as long as y
//	u        standard uncertainties of y, all above 0; nil where none are stated, the basis is then ResidualScaled
//
// Refused: fewer points than coefficients (ResidualScaled needs one more), numbers not finite, columns that depend on
// each other.
//
// Source: Björck, Numerical Methods for Least Squares Problems (1996), 2.4.
func FitLinear(columns [][]float64, y, u []float64, basis Basis) (Regression, error) {
	n, k := len(y), len(columns)+1
	if err := cmp.Or(checkCount(n, k, basis), checkValues("y", y, n), checkWeights(u, n, basis)); err != nil {
		return Regression{}, err
	}
	design := mat.NewDense(n, k, nil)
	back := identity(k) // raw coefficients from scaled ones
	for i := range n {
		design.Set(i, 0, 1)
	}
	for j, x := range columns {
		if err := checkValues(fmt.Sprintf("x%d", j+1), x, n); err != nil {
			return Regression{}, err
		}
		centre, half := span(x)
		if half == 0 {
			return Regression{}, &RangeError{What: fmt.Sprintf("range of x%d", j+1), Seen: 0, Allowed: "above 0: x must vary"}
		}
		for i, v := range x {
			design.Set(i, j+1, (v-centre)/half)
		}
		back.Set(j+1, j+1, 1/half)
		back.Set(0, j+1, -centre/half)
	}
	s, err := solve(design, y, u, basis)
	if err != nil {
		return Regression{}, err
	}
	return s.raw(back), nil
}

// span gives the middle and the half-width of the range of x.
func span(x []float64) (centre, half float64) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range x {
		low, high = min(low, v), max(high, v)
	}
	return low + (high-low)/2, (high - low) / 2
}

func identity(k int) *mat.Dense {
	m := mat.NewDense(k, k, nil)
	for i := range k {
		m.Set(i, i, 1)
	}
	return m
}

// checkCount refuses a basis that is not stated, and too few points for so many coefficients.
func checkCount(n, coefficients int, basis Basis) error {
	least := coefficients
	switch basis {
	case APriori:
	case ResidualScaled:
		least++
	default:
		return fmt.Errorf("it is not stated whether the fit's uncertainty comes from the residuals or a priori")
	}
	if n < least {
		return &RangeError{What: "number of points", Seen: float64(n), Allowed: fmt.Sprintf("%d or more", least)}
	}
	return nil
}

// checkValues refuses a list that is not n long, or not finite.
func checkValues(what string, v []float64, n int) error {
	if err := checkLength(what+" values", len(v), n); err != nil {
		return err
	}
	for _, x := range v {
		if err := checkFinite(what, x); err != nil {
			return err
		}
	}
	return nil
}

// checkWeights refuses uncertainties that are not all above zero. None at all are enough for the residuals' basis.
func checkWeights(u []float64, n int, basis Basis) error {
	if u == nil {
		if basis == APriori {
			return fmt.Errorf("a fit with a-priori uncertainty needs the standard uncertainties of its points")
		}
		return nil
	}
	if err := checkLength("standard uncertainties", len(u), n); err != nil {
		return err
	}
	for _, v := range u {
		if !(v > 0) || !finite(v) {
			return &RangeError{What: "standard uncertainty of a point", Seen: v, Allowed: "above 0, finite"}
		}
	}
	return nil
}

// solution is a fit in scaled coordinates.
type solution struct {
	coefficients *mat.VecDense
	covariance   *mat.Dense
	regression   Regression // without coefficients and covariance
}

// solve minimises Σ ((y − A·β)/u)², all of it checked before.
func solve(design *mat.Dense, y, u []float64, basis Basis) (solution, error) {
	n, k := design.Dims()
	a, rhs := mat.DenseCopyOf(design), mat.NewVecDense(n, nil)
	for i, v := range y {
		w := 1.0
		if u != nil {
			w = 1 / u[i]
		}
		rhs.SetVec(i, v*w)
		for j := range k {
			a.Set(i, j, a.At(i, j)*w)
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	if c := qr.Cond(); !(c <= maxCondition) {
		return solution{}, &RangeError{What: "condition number of the fit", Seen: c,
			Allowed: fmt.Sprintf("%g at most: the points do not fix the coefficients", maxCondition)}
	}
	s := solution{coefficients: mat.NewVecDense(k, nil), covariance: mat.NewDense(k, k, nil)}
	if err := qr.SolveVecTo(s.coefficients, false, rhs); err != nil {
		return solution{}, fmt.Errorf("least-squares fit: %w", err)
	}
	var fitted mat.VecDense
	fitted.MulVec(a, s.coefficients)
	ss := 0.0
	for i := range n {
		r := rhs.AtVec(i) - fitted.AtVec(i)
		ss += r * r
	}
	dof := n - k
	s.regression = Regression{Basis: basis, N: n, ResidualDOF: dof, ResidualSS: ss, ResidualSD: residualSD(ss, dof)}
	scale := 1.0
	if basis == ResidualScaled {
		scale = ss / float64(dof)
	}
	// (AᵀA)⁻¹ = R⁻¹ R⁻ᵀ
	var full mat.Dense
	qr.RTo(&full)
	r, inverse := mat.NewTriDense(k, mat.Upper, nil), mat.NewTriDense(k, mat.Upper, nil)
	for i := range k {
		for j := i; j < k; j++ {
			r.SetTri(i, j, full.At(i, j))
		}
	}
	if err := inverse.InverseTri(r); err != nil {
		return solution{}, fmt.Errorf("covariance of the fit: %w", err)
	}
	s.covariance.Mul(inverse, inverse.T())
	s.covariance.Scale(scale, s.covariance)
	return s, nil
}

// residualSD is the scatter of one point of unit weight; without degrees of freedom nothing is known of it.
func residualSD(ss float64, dof int) float64 {
	if dof < 1 {
		return math.NaN()
	}
	return math.Sqrt(ss / float64(dof))
}

// raw takes the solution back to the caller's coordinates.
func (s solution) raw(back *mat.Dense) Regression {
	var b mat.VecDense
	b.MulVec(back, s.coefficients)
	var half, c mat.Dense
	half.Mul(back, s.covariance)
	c.Mul(&half, back.T())
	out := s.regression
	k := b.Len()
	for i := range k {
		out.Coefficients = append(out.Coefficients, b.AtVec(i))
		out.Covariance = append(out.Covariance, make([]float64, k))
		for j := range k {
			out.Covariance[i][j] = (c.At(i, j) + c.At(j, i)) / 2
		}
	}
	return out
}
