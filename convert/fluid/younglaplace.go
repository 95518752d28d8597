package fluid

import "math"

// The Young-Laplace equation of a meniscus in a round tube, lengths in capillary lengths:
//
//	dr/ds = cos ψ,   dz/ds = sin ψ,   dψ/ds = d + z − sin(ψ)/r,   from r = z = ψ = 0, where dψ/ds = d/2
//
// s is the arc from the apex, r the distance from the axis, z how far the surface lies below the apex, ψ its slope, and d
// how far the apex itself lies below the level outside. Source: P. S. Laplace, Mécanique céleste, supplément au livre X
// (1806); T. Young, Phil. Trans. R. Soc. 95 (1805) 65.

// profile is a point of the surface.
type profile struct{ r, z, psi float64 }

// widest is the radius from which on the apex is flat within 1e-8 capillary lengths.
const widest = 20.0

// stepsPerLength is how finely the surface is followed, per capillary length or radius, whichever is smaller. Twelve times
// as many steps move no result by more than 1e-8 of itself.
const stepsPerLength = 64

// slope gives the derivatives by s.
func (p profile) slope(d float64) profile {
	curvature := d / 2
	if p.r > 0 {
		curvature = d + p.z - math.Sin(p.psi)/p.r
	}
	return profile{math.Cos(p.psi), math.Sin(p.psi), curvature}
}

// plus gives p + h q.
func (p profile) plus(h float64, q profile) profile {
	return profile{p.r + h*q.r, p.z + h*q.z, p.psi + h*q.psi}
}

// step follows the surface by h, with the classical Runge-Kutta formula of fourth order.
func (p profile) step(d, h float64) profile {
	k1 := p.slope(d)
	k2 := p.plus(h/2, k1).slope(d)
	k3 := p.plus(h/2, k2).slope(d)
	k4 := p.plus(h, k3).slope(d)
	return p.plus(h/6, k1).plus(h/3, k2).plus(h/3, k3).plus(h/6, k4)
}

// follow goes from the apex to the first point where done holds.
func follow(d, radius float64, done func(profile) bool) profile {
	h := min(radius, 1) / stepsPerLength
	var p profile
	// The arc is at most the radius and the height together, and the height at most two capillary lengths and a radius.
	for range int((2*radius+4)/h) + 1 {
		next := p.step(d, h)
		if done(next) {
			return p.until(d, h, done)
		}
		p = next
	}
	return p
}

// until halves the step that leads past the point where done begins to hold.
func (p profile) until(d, h float64, done func(profile) bool) profile {
	low, high := 0.0, h
	for range 40 {
		if mid := (low + high) / 2; done(p.step(d, mid)) {
			high = mid
		} else {
			low = mid
		}
	}
	return p.step(d, high)
}

// solveApex finds the d, and the height of the meniscus, for which the slope at the wall is edge, 0 to π/2.
func solveApex(radius, edge float64) (d, height float64) {
	if edge == 0 || radius > widest {
		return 0, flatHeight(radius, edge)
	}
	done := func(p profile) bool { return p.psi >= edge || p.r > radius }
	// At the d of the mean depression the surface is too curved already; towards 0 it is too flat.
	d = bisectLog(2*math.Sin(edge)/radius, func(d float64) bool { return follow(d, radius, done).psi < edge })
	return d, follow(d, radius, done).z
}

// flatHeight is the height of a meniscus in a tube so wide that its middle is flat:
//
//	z² = 2 (1 − cos ψ) + 8/(3 r) (1 − cos³(ψ/2))
//
// The first term is that of a plane wall. The second follows from the equation, multiplied by dz and integrated, with
// the plane wall's arc put in; what it leaves out is of the order 1/r².
func flatHeight(radius, edge float64) float64 {
	c := math.Cos(edge / 2)
	return math.Sqrt(2*(1-math.Cos(edge)) + 8/(3*radius)*(1-c*c*c))
}

// solveApexByHeight finds the d for which the meniscus is height high at the wall.
func solveApexByHeight(radius, height float64) float64 {
	if height == 0 || radius > widest {
		return 0
	}
	done := func(p profile) bool { return p.z >= height || p.r > radius || p.psi >= math.Pi/2 }
	return bisectLog(2/radius, func(d float64) bool {
		p := follow(d, radius, done)
		return p.z < height && p.psi < math.Pi/2
	})
}

// bisectLog finds where tooSmall ends below high, by halving ratios.
func bisectLog(high float64, tooSmall func(float64) bool) float64 {
	low := high * 1e-12
	for range 70 {
		if mid := math.Sqrt(low * high); tooSmall(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Sqrt(low * high)
}
