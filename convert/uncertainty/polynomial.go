package uncertainty

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// MaxDegree bounds a polynomial: a calibration curve that needs more bends than this needs another form.
const MaxDegree = 6

// Polynomial is a fitted calibration curve y = b0 + b1·x + b2·x² + …, good from Low to High and nowhere else.
type Polynomial struct {
	Regression         // coefficients of 1, x, x², …; for values use At, which keeps more digits
	Low, High  float64 // range of x that was fitted

	scaled solution
	centre float64
	half   float64
}

// FitPolynomial fits a polynomial of degree 1 to MaxDegree by QR decomposition on x scaled to −1 … 1.
//
//	u  standard uncertainties of y, all above 0; nil where none are stated, the basis is then ResidualScaled
//
// Refused, beside what FitLinear refuses: degrees outside, fewer different x than coefficients.
func FitPolynomial(x, y, u []float64, degree int, basis Basis) (Polynomial, error) {
	if degree < 1 || degree > MaxDegree {
		return Polynomial{}, &RangeError{What: "degree of the polynomial", Seen: float64(degree), Allowed: fmt.Sprintf("1 to %d", MaxDegree)}
	}
	n, k := len(y), degree+1
	if err := cmp.Or(checkCount(n, k, basis), checkValues("x", x, n), checkValues("y", y, n), checkWeights(u, n, basis)); err != nil {
		return Polynomial{}, err
	}
	distinct := make(map[float64]bool)
	for _, v := range x {
		distinct[v] = true
	}
	if len(distinct) < k {
		return Polynomial{}, &RangeError{What: "number of different x", Seen: float64(len(distinct)), Allowed: fmt.Sprintf("%d or more", k)}
	}
	p := Polynomial{}
	p.centre, p.half = span(x)
	p.Low, p.High = p.centre-p.half, p.centre+p.half
	for _, v := range x { // the ends as given, not as rounded
		p.Low, p.High = min(p.Low, v), max(p.High, v)
	}
	design := mat.NewDense(n, k, nil)
	for i, v := range x {
		design.SetRow(i, powers((v-p.centre)/p.half, k))
	}
	var err error
	if p.scaled, err = solve(design, y, u, basis); err != nil {
		return Polynomial{}, err
	}
	p.Regression = p.scaled.raw(expand(p.centre, p.half, k))
	return p, nil
}

func powers(z float64, k int) []float64 {
	out := make([]float64, k)
	v := 1.0
	for j := range out {
		out[j] = v
		v *= z
	}
	return out
}

// expand gives the matrix that turns coefficients of ((x−c)/h)^j into coefficients of x^i, by the binomial theorem.
func expand(c, h float64, k int) *mat.Dense {
	m := mat.NewDense(k, k, nil)
	for j := range k {
		binomial := 1.0
		for i := j; i >= 0; i-- { // C(j, i)
			m.Set(i, j, binomial*math.Pow(-c, float64(j-i))/math.Pow(h, float64(j)))
			binomial *= float64(i) / float64(j-i+1)
		}
	}
	return m
}

// At gives the curve at x, and the standard uncertainty of the curve there on the fit's basis. It is that of the curve
// alone: the uncertainty of x, and the scatter of a single observation, are the caller's to add.
// Outside Low to High, and for NaN, it returns a *RangeError: a polynomial says nothing there.
func (p Polynomial) At(x float64) (y, u float64, err error) {
	if !(x >= p.Low && x <= p.High) {
		return 0, 0, &RangeError{What: "x of a calibration curve", Seen: x, Allowed: fmt.Sprintf("%g to %g, as calibrated", p.Low, p.High)}
	}
	z := mat.NewVecDense(len(p.Coefficients), powers((x-p.centre)/p.half, len(p.Coefficients)))
	y = mat.Dot(z, p.scaled.coefficients)
	return y, math.Sqrt(max(0, mat.Inner(z, p.scaled.covariance, z))), nil
}
