package position

import (
	"math"

	"manobridge/convert"
)

// fit is the map from rows of one image to positions along the scale,
//
//	x = (a ρ + b)/(c ρ + 1),  ρ = (r − center)/half
//
// which is what a pinhole camera does to the points of a straight line; with two marks c is 0, a shift and a zoom. It is
// fitted to the marks by least squares, each weighed by u(x)² + (∂x/∂r)² u(r)², and C = (JᵀWJ)⁻¹ is the covariance of
// a, b, c. Source: JCGM 100:2008, H.3, for the propagation; the projective map of a line is textbook geometry.
type fit struct {
	terms       int // 2 or 3
	markU, rowU float64
	n           int
	marks, rows [convert.MaxFiducials]float64

	center, half float64
	p            [3]float64 // a, b, c
	cov          [3][3]float64
}

// solve fits the map. False where the marks do not stand in the order of their rows, or look too askew to be believed.
func (f *fit) solve() bool {
	low, high := f.rows[0], f.rows[0]
	for i := range f.n {
		low, high = min(low, f.rows[i]), max(high, f.rows[i])
		for j := range i {
			if way := (f.marks[i] - f.marks[j]) * (f.rows[i] - f.rows[j]) * (f.marks[1] - f.marks[0]) * (f.rows[1] - f.rows[0]); !(way > 0) {
				return false
			}
		}
	}
	f.center, f.half = (low+high)/2, (high-low)/2

	// First all alike: x (c ρ + 1) = a ρ + b is linear. Then the residuals themselves, weighed, by Gauss and Newton.
	var normal [3][3]float64
	var right [3]float64
	for i := range f.n {
		rho, x := f.rho(f.rows[i]), f.marks[i]
		add(&normal, &right, [3]float64{rho, 1, -rho * x}, x, 1)
	}
	inverse, ok := invert(normal, f.terms)
	if !ok {
		return false
	}
	f.p = [3]float64{}
	f.step(inverse, right)
	for range 20 {
		normal, right = [3][3]float64{}, [3]float64{}
		for i := range f.n {
			x, slope, j := f.model(f.rows[i])
			add(&normal, &right, j, f.marks[i]-x, 1/f.variance(slope))
		}
		if f.cov, ok = invert(normal, f.terms); !ok {
			return false
		}
		if f.n == f.terms || f.step(f.cov, right) {
			break
		}
	}
	_, first, _ := f.model(low)
	_, last, _ := f.model(high)
	ratio := first / last
	return 1-math.Abs(f.p[2]) > 0 && ratio < steepest && ratio > 1/steepest
}

func (f *fit) rho(row float64) float64 { return (row - f.center) / f.half }

// model gives the position of a row, its change per px, and its change with a, b and c.
func (f *fit) model(row float64) (x, slope float64, j [3]float64) {
	rho := f.rho(row)
	d := f.p[2]*rho + 1
	x = (f.p[0]*rho + f.p[1]) / d
	slope = (f.p[0] - f.p[1]*f.p[2]) / (d * d * f.half)
	return x, slope, [3]float64{rho / d, 1 / d, -rho * x / d}
}

// at gives the position of a row, its change per px, and the variance that the map gives it.
func (f *fit) at(row float64) (x, slope, variance float64) {
	x, slope, j := f.model(row)
	if f.p[2]*f.rho(row)+1 <= 0 { // past the horizon of a camera that looks askew
		return math.NaN(), slope, 0
	}
	for i := range f.terms {
		for k := range f.terms {
			variance += j[i] * f.cov[i][k] * j[k]
		}
	}
	return x, slope, variance
}

func (f *fit) variance(slope float64) float64 {
	return f.markU*f.markU + slope*slope*f.rowU*f.rowU
}

// worst gives how far the worst mark stands off the map, in m and in standard uncertainties of that residual, which the
// fit has made smaller: σ² − J C Jᵀ. Where there are no more marks than terms, nothing can stand off.
func (f *fit) worst() (by, inU float64) {
	if f.n == f.terms {
		return 0, 0
	}
	for i := range f.n {
		x, slope, variance := f.at(f.rows[i])
		of := f.variance(slope)
		left := math.Sqrt(max(of-variance, 1e-9*of))
		if off := math.Abs(f.marks[i] - x); !(off/left <= inU) {
			by, inU = off, off/left
		}
	}
	return by, inU
}

// span gives the outermost marks seen.
func (f *fit) span() (lowest, highest float64) {
	lowest, highest = f.marks[0], f.marks[0]
	for _, x := range f.marks[1:f.n] {
		lowest, highest = min(lowest, x), max(highest, x)
	}
	return lowest, highest
}

// step moves the terms and tells whether they have settled.
func (f *fit) step(inverse [3][3]float64, right [3]float64) bool {
	settled := true
	for i := range f.terms {
		d := 0.0
		for k := range f.terms {
			d += inverse[i][k] * right[k]
		}
		f.p[i] += d
		settled = settled && math.Abs(d) <= 1e-13
	}
	return settled
}

func add(normal *[3][3]float64, right *[3]float64, j [3]float64, y, weight float64) {
	for i := range j {
		right[i] += weight * j[i] * y
		for k := range j {
			normal[i][k] += weight * j[i] * j[k]
		}
	}
}

// invert inverts the leading n × n part by Gauss and Jordan with pivots. False where it is singular.
func invert(m [3][3]float64, n int) (inverse [3][3]float64, ok bool) {
	for i := range n {
		inverse[i][i] = 1
	}
	for c := range n {
		p := c
		for r := c + 1; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		m[c], m[p], inverse[c], inverse[p] = m[p], m[c], inverse[p], inverse[c]
		pivot := m[c][c]
		if pivot == 0 || math.IsNaN(pivot) || math.IsInf(pivot, 0) {
			return inverse, false
		}
		for k := range n {
			m[c][k] /= pivot
			inverse[c][k] /= pivot
		}
		for r := range n {
			if r == c {
				continue
			}
			by := m[r][c]
			for k := range n {
				m[r][k] -= by * m[c][k]
				inverse[r][k] -= by * inverse[c][k]
			}
		}
	}
	return inverse, true
}
