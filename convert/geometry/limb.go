package geometry

import "math"

// Limb is one arm of an instrument.
type Limb struct {
	Digitized bool    // its position is read
	Slope     float64 // rad above horizontal, 0 < slope ≤ π/2
	BoreArea  float64 // m², > 0
	ScaleZero float64 // m, height of the scale's zero above the common level
	Tap       float64 // m, height of the tap
	// Capillary is the fall of pressure from the over-fluid into the liquid at the curved meniscus, Pa; positive where the
	// liquid wets the tube. A zero reading on the same tube removes it.
	Capillary float64
	// ZeroDistance is how far the limb lies, horizontally, towards the end that a positive tilt raises, m.
	ZeroDistance float64
}

// check refuses a limb that cannot be built.
func (l Limb) check(name string) error {
	if err := inOpenClosed(name+" slope", l.Slope, 0, math.Pi/2, degPerRad, "°"); err != nil {
		return err
	}
	return inOpenClosed(name+" bore area", l.BoreArea, 0, 10, 1e6, "mm²")
}

// rise is how a limb turns length into height under the tilt of the base:
//
//	s = sin(θ + δ) cos γ
//
//	θ  slope of the limb above horizontal   rad  0 < θ ≤ π/2
//	δ  tilt of the base in the tube's plane  rad
//	γ  tilt across                          rad
//
// The tube's plane tilts first, then everything turns about the horizontal axis of that plane, so heights shrink by
// cos γ. Derivation: rotation of the unit vector (cos θ, 0, sin θ) about y by δ, then about x by γ; its z component.
func (l Limb) rise(tilt, cross float64) (s, dTheta, dCross float64) {
	sin, cos := math.Sincos(l.Slope + tilt)
	if cross == 0 {
		return sin, cos, 0
	}
	sg, cg := math.Sincos(cross)
	return sin * cg, cos * cg, -sin * sg
}
