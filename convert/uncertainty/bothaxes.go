package uncertainty

import (
	"cmp"
	"fmt"
	"math"
)

// FitLineBothAxes fits a straight line to at least two points (three from the residuals) that are uncertain in x and
// in y, all of them independent.
//
//	minimise Σ (y − a − b·x)² / (u_y² + b² u_x²)
//
// Each point needs u_x or u_y above 0, and x must vary. The uncertainties of a and b are evaluated at the points as
// adjusted to the line, as the standard does. The law of propagation at the points as observed gives others, the closer
// the better the points fit; for points as bad as a reduced χ² of 1.5 they differ by 1 %.
// A search that does not settle gives an error: the points then fix no line.
//
// Source: York, Evensen, López Martínez and De Basabe Delgado, American Journal of Physics 72 (2004) 367, equations
// (13), with r = 0; ISO/TS 28037:2010, clause 7, is the same problem.
func FitLineBothAxes(x, uX, y, uY []float64, basis Basis) (Line, error) {
	if err := checkBothAxes(x, uX, y, uY, basis); err != nil {
		return Line{}, err
	}
	plain, err := FitPolynomial(x, y, ones(len(x)), 1, APriori)
	if err != nil {
		return Line{}, err
	}
	start := plain.Coefficients[1]
	b := start
	const most, enough = 200, 1e-13
	for range most {
		s := weighLine(x, uX, y, uY, b)
		next := s.slope()
		if !finite(next) {
			break
		}
		if math.Abs(next-b) <= enough*(math.Abs(next)+math.Abs(start)*1e-6) {
			l := s.line(x, y, next, basis)
			return l, cmp.Or(checkFinite("slope uncertainty", l.USlope), checkFinite("intercept uncertainty", l.UIntercept))
		}
		b = next
	}
	return Line{}, fmt.Errorf("line through points uncertain on both axes: no slope found in %d steps from %g; the points fix no line", most, start)
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

func checkBothAxes(x, uX, y, uY []float64, basis Basis) error {
	n := len(y)
	if err := cmp.Or(checkCount(n, 2, basis), checkValues("x", x, n), checkValues("y", y, n),
		checkLength("standard uncertainties of x", len(uX), n), checkLength("standard uncertainties of y", len(uY), n)); err != nil {
		return err
	}
	for i := range n {
		if err := cmp.Or(checkU("standard uncertainty of x", uX[i]), checkU("standard uncertainty of y", uY[i])); err != nil {
			return err
		}
		if uX[i] == 0 && uY[i] == 0 {
			return &RangeError{What: fmt.Sprintf("standard uncertainty of point %d on both axes", i+1), Seen: 0, Allowed: "above 0 on one of them"}
		}
	}
	return nil
}

// weighted is the state of the search at one slope.
type weighted struct {
	weight       []float64 // W = 1/(u_y² + b² u_x²)
	shift        []float64 // β: x of the adjusted point, from the centroid
	meanX, meanY float64   // centroid
	ratio        [2]float64
}

// weighLine computes the weights at slope b and what follows from them.
func weighLine(x, uX, y, uY []float64, b float64) weighted {
	w := weighted{weight: make([]float64, len(x)), shift: make([]float64, len(x))}
	var total float64
	for i := range x {
		w.weight[i] = 1 / (uY[i]*uY[i] + b*b*uX[i]*uX[i])
		total += w.weight[i]
	}
	for i := range x {
		w.meanX += w.weight[i] / total * x[i]
		w.meanY += w.weight[i] / total * y[i]
	}
	for i := range x {
		dx, dy := x[i]-w.meanX, y[i]-w.meanY
		// York's β without his 1/u², so that an exact axis does no harm.
		w.shift[i] = w.weight[i] * (dx*uY[i]*uY[i] + b*dy*uX[i]*uX[i])
		w.ratio[0] += w.weight[i] * w.shift[i] * dy
		w.ratio[1] += w.weight[i] * w.shift[i] * dx
	}
	return w
}

func (w weighted) slope() float64 { return w.ratio[0] / w.ratio[1] }

// line reads the result off the last step.
func (w weighted) line(x, y []float64, b float64, basis Basis) Line {
	l := Line{Slope: b, Intercept: w.meanY - b*w.meanX, Basis: basis, N: len(x), ResidualDOF: len(x) - 2}
	var total, meanShift, spread float64
	for _, v := range w.weight {
		total += v
	}
	for i, v := range w.weight {
		meanShift += v / total * w.shift[i]
	}
	for i, v := range w.weight {
		d := w.shift[i] - meanShift
		spread += v * d * d
		r := y[i] - l.Intercept - b*x[i]
		l.ResidualSS += v * r * r
	}
	l.ResidualSD = residualSD(l.ResidualSS, l.ResidualDOF)
	centre, half := span(x)
	l.Low, l.High = centre-half, centre+half

	varB, adjusted := 1/spread, w.meanX+meanShift
	varA, cov := 1/total+adjusted*adjusted*varB, -adjusted*varB
	scale := 1.0
	if basis == ResidualScaled {
		scale = l.ResidualSD
	}
	l.UIntercept, l.USlope, l.Covariance = scale*math.Sqrt(varA), scale*math.Sqrt(varB), scale*scale*cov
	return l
}
