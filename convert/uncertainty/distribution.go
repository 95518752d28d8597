package uncertainty

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"
)

// shape is the form of a distribution.
type shape uint8

const (
	noShape shape = iota
	normal
	scaledT
	rectangular
	trapezoid
	triangular
	arcsine
)

var shapeNames = [...]string{"none", "normal", "scaled and shifted t", "rectangular", "curvilinear trapezoid", "triangular", "arcsine"}

// Distribution is what is known of one input, as Propagate draws from it. The constructors do not refuse; Propagate
// does, before it draws. The zero value is refused.
type Distribution struct {
	shape  shape
	centre float64
	scale  float64 // standard deviation, scale of t, or half-width
	extra  float64 // ν of t; inexactness of the half-width of a trapezoid
}

// Normal is for a best estimate with a standard uncertainty. u = 0 is a constant. Source: JCGM 101:2008, 6.4.7.
func Normal(mean, u float64) Distribution { return Distribution{normal, mean, u, 0} }

// ScaledT is for the mean of observations: scale is s/√n, dof n − 1. It has a standard deviation only above 2 degrees
// of freedom, scale·√(ν/(ν−2)), and is refused at and below. Source: JCGM 101:2008, 6.4.9.
func ScaledT(mean, scale, dof float64) Distribution {
	return Distribution{scaledT, mean, scale, dof}
}

// Rectangular is for a quantity known only to lie within ±halfWidth. Source: JCGM 101:2008, 6.4.2.
func Rectangular(mean, halfWidth float64) Distribution {
	return Distribution{rectangular, mean, halfWidth, 0}
}

// CurvilinearTrapezoid is a rectangular distribution whose half-width is itself known only to ± inexactness, which is at
// most the half-width. Source: JCGM 101:2008, 6.4.3.
func CurvilinearTrapezoid(mean, halfWidth, inexactness float64) Distribution {
	return Distribution{trapezoid, mean, halfWidth, inexactness}
}

// Triangular is for the sum of two alike rectangular quantities. Source: JCGM 101:2008, 6.4.5.
func Triangular(mean, halfWidth float64) Distribution {
	return Distribution{triangular, mean, halfWidth, 0}
}

// Arcsine is for a quantity that cycles like a sine of this half-width, met at an unknown moment.
// Source: JCGM 101:2008, 6.4.6.
func Arcsine(mean, halfWidth float64) Distribution {
	return Distribution{arcsine, mean, halfWidth, 0}
}

// Mean gives the best estimate.
func (d Distribution) Mean() float64 { return d.centre }

// StdU gives the standard uncertainty, the standard deviation of the distribution. It is NaN for what Propagate refuses.
func (d Distribution) StdU() float64 {
	if d.check() != nil {
		return math.NaN()
	}
	switch d.shape {
	case scaledT:
		return d.scale * math.Sqrt(d.extra/(d.extra-2))
	case rectangular:
		return RectangularU(d.scale)
	case trapezoid:
		return math.Sqrt(d.scale*d.scale/3 + d.extra*d.extra/9)
	case triangular:
		return TriangularU(d.scale)
	case arcsine:
		return ArcsineU(d.scale)
	}
	return d.scale
}

// String names the distribution in words.
func (d Distribution) String() string {
	return fmt.Sprintf("%s about %g, scale %g", shapeNames[d.shape], d.centre, d.scale)
}

func (d Distribution) check() error {
	if err := checkFinite("mean", d.centre); err != nil {
		return err
	}
	if err := checkU("standard uncertainty, scale or half-width", d.scale); err != nil {
		return err
	}
	switch d.shape {
	case noShape:
		return fmt.Errorf("no distribution given")
	case scaledT:
		if !(d.extra > 2) || math.IsInf(d.extra, 1) {
			return &RangeError{What: "degrees of freedom of a t distribution", Seen: d.extra,
				Allowed: "above 2, finite (below, it has no standard deviation; without limit it is normal)"}
		}
	case trapezoid:
		if !(d.extra >= 0 && d.extra <= d.scale) {
			return &RangeError{What: "inexactness of a half-width", Seen: d.extra, Allowed: fmt.Sprintf("0 to %g, the half-width", d.scale)}
		}
	}
	return nil
}

// sampler gives a function that draws from a checked distribution.
func (d Distribution) sampler(r *rand.Rand) func() float64 {
	m, s := d.centre, d.scale
	switch d.shape {
	case scaledT:
		// JCGM 101:2008, 6.4.9.5, with the chi-squared deviate drawn as a gamma deviate so that ν need not be whole.
		gamma := distuv.Gamma{Alpha: d.extra / 2, Beta: 0.5, Src: r}
		return func() float64 { return m + s*r.NormFloat64()*math.Sqrt(d.extra/gamma.Rand()) }
	case rectangular:
		return func() float64 { return m + s*(2*r.Float64()-1) }
	case trapezoid:
		return func() float64 { return m + (s+d.extra*(2*r.Float64()-1))*(2*r.Float64()-1) } // 6.4.3.4
	case triangular:
		return func() float64 { return m + s*(r.Float64()+r.Float64()-1) } // 6.4.5.4
	case arcsine:
		return func() float64 { return m + s*math.Sin(2*math.Pi*r.Float64()) } // 6.4.6.4
	}
	return func() float64 { return m + s*r.NormFloat64() }
}
