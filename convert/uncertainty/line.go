package uncertainty

import (
	"fmt"
	"math"
)

// Line is a fitted straight line y = a + b·x. The fields may also be filled from a calibration certificate.
type Line struct {
	Intercept, Slope   float64 // a, b
	UIntercept, USlope float64 // u(a), u(b)
	Covariance         float64 // cov(a, b)
	Basis              Basis   // where the three above come from

	N           int
	ResidualDOF int     // N − 2
	ResidualSS  float64 // Σ r², or the weighted sum χ² where uncertainties were given
	ResidualSD  float64 // √(ResidualSS/ResidualDOF); NaN for two points
	Low, High   float64 // range of x that was fitted; outside, the line is a guess. Both 0 where not known
}

// FitLine fits a straight line to at least three points of equal, unknown uncertainty in y, which it takes from the
// residuals. x is taken as exact. Fewer points, x that does not vary, and numbers not finite are refused.
//
// Source: JCGM 100:2008, H.3; ISO/TS 28037:2010, annex E.
func FitLine(x, y []float64) (Line, error) { return fitLine(x, y, nil, ResidualScaled) }

// FitLineWeighted fits a straight line to points with standard uncertainties u in y, all above 0; x is taken as exact.
// The basis says whether u holds as stated or only as weights. A priori, two points are enough.
//
// Source: ISO/TS 28037:2010, clause 6.
func FitLineWeighted(x, y, u []float64, basis Basis) (Line, error) {
	if u == nil {
		u = []float64{} // FitLine is the one without
	}
	return fitLine(x, y, u, basis)
}

func fitLine(x, y, u []float64, basis Basis) (Line, error) {
	p, err := FitPolynomial(x, y, u, 1, basis)
	if err != nil {
		return Line{}, err
	}
	return Line{
		Intercept: p.Coefficients[0], Slope: p.Coefficients[1],
		UIntercept: p.U(0), USlope: p.U(1), Covariance: p.Covariance[0][1], Basis: basis,
		N: p.N, ResidualDOF: p.ResidualDOF, ResidualSS: p.ResidualSS, ResidualSD: p.ResidualSD,
		Low: p.Low, High: p.High,
	}, nil
}

// DOF gives the degrees of freedom of the uncertainties: N − 2 from the residuals, +Inf a priori.
func (l Line) DOF() float64 { return l.regression().DOF() }

// ChiSquaredP is that of Regression.
func (l Line) ChiSquaredP() float64 { return l.regression().ChiSquaredP() }

func (l Line) regression() Regression {
	return Regression{Basis: l.Basis, ResidualDOF: l.ResidualDOF, ResidualSS: l.ResidualSS}
}

// Covers tells whether x lies in the range that was fitted.
func (l Line) Covers(x float64) bool { return x >= l.Low && x <= l.High }

// At gives the line at an exact x and the standard uncertainty of the line there. It answers outside the fitted range
// too, where Covers says so.
//
//	u²(y) = u²(a) + x² u²(b) + 2 x cov(a, b)
//
// Source: JCGM 100:2008, H.3.3 equation (H.15).
func (l Line) At(x float64) (y, u float64) {
	return l.Intercept + l.Slope*x, math.Sqrt(l.variance(x))
}

func (l Line) variance(x float64) float64 {
	ua, ub := l.UIntercept, x*l.USlope
	return max(0, ua*ua+ub*ub+2*x*l.Covariance)
}

// Inverse gives the x at which the line takes an observed y0, and its standard uncertainty to first order.
//
//	x0 = (y0 − a)/b        u²(x0) = [ u²(y0) + u²(a) + x0² u²(b) + 2 x0 cov(a, b) ] / b²
//
// A slope within two of its standard uncertainties from zero gives a *RangeError: x0 could then be anywhere. So do
// numbers not finite. It answers outside the fitted range too, where Covers says so.
//
// Source: ISO/TS 28037:2010, 11.1.
func (l Line) Inverse(y0, uY0 float64) (x0, u float64, err error) {
	if err := checkFinite("observed y", y0); err != nil {
		return 0, 0, err
	}
	if err := checkU("standard uncertainty of y", uY0); err != nil {
		return 0, 0, err
	}
	if !(math.Abs(l.Slope) > 2*l.USlope) {
		return 0, 0, &RangeError{What: "slope of a line to be used backwards", Seen: l.Slope,
			Allowed: fmt.Sprintf("more than two standard uncertainties, %g, from 0", 2*l.USlope)}
	}
	x0 = (y0 - l.Intercept) / l.Slope
	u = math.Sqrt(uY0*uY0+l.variance(x0)) / math.Abs(l.Slope)
	return x0, u, checkFinite("uncertainty of x", u)
}
