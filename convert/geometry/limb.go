package geometry

import "math"

// Limb is one arm of an instrument.
type Limb struct {
	Digitized bool    // its position is read
	Slope     float64 // rad above horizontal, 0 < slope ≤ π/2; not used where there is a Profile
	BoreArea  float64 // m², > 0; +Inf holds the level of the limb where it is
	ScaleZero float64 // m, height of the scale's zero above the common level
	Tap       float64 // m, height of the tap
	// Capillary is the fall of pressure from the over-fluid into the liquid at the curved meniscus, Pa; positive where the
	// liquid wets the tube. A zero reading on the same tube removes it.
	Capillary float64
	// ZeroDistance is how far the zero of the limb's scale lies, horizontally, from the axis of the other limb, towards the
	// end that a positive tilt raises, m. In a reservoir instrument it says that the zero was taken on a level base and the
	// tilt came later; 0 there says that the zero was taken as the base stands.
	ZeroDistance float64
	// Profile is the shape of a bent tube; nil for a straight one.
	Profile *Profile
}

// check refuses a limb that cannot be built.
func (l *Limb) check(name string) error {
	if l.Profile != nil {
		return l.Profile.check(name)
	}
	if err := inOpenClosed(name+" slope", l.Slope, 0, math.Pi/2, degPerRad, "°"); err != nil {
		return err
	}
	if math.IsInf(l.BoreArea, 1) && !l.Digitized {
		return nil
	}
	return inOpenClosed(name+" bore area", l.BoreArea, 0, 10, 1e6, "mm²")
}

// spot is the height of a point of a limb over its scale's zero, with its derivatives.
type spot struct {
	z      float64 // m
	dx     float64 // by the length along the limb
	dSlope float64 // by the slope of a straight limb
	dTilt  float64
	dCross float64
}

// at turns length along the limb into height under the tilt of the base:
//
//	z = x sin(θ + δ) cos γ
//
//	x  length along the limb                 m
//	θ  slope of the limb above horizontal    rad  0 < θ ≤ π/2
//	δ  tilt of the base in the tube's plane  rad
//	γ  tilt across                           rad
//
// The tube's plane tilts first, then everything turns about the horizontal axis of that plane, so heights shrink by
// cos γ. Derivation: rotation of the unit vector (cos θ, 0, sin θ) about y by δ, then about x by γ; its z component.
func (l *Limb) at(x, tilt, cross float64) spot {
	if l.Profile != nil {
		return l.Profile.at(x, tilt, cross)
	}
	sin, cos := math.Sincos(l.Slope + tilt)
	if cross == 0 {
		return spot{x * sin, sin, x * cos, x * cos, 0}
	}
	sg, cg := math.Sincos(cross)
	return spot{x * sin * cg, sin * cg, x * cos * cg, x * cos * cg, -x * sin * sg}
}

// onAxis is the level of a point of an untilted limb, carried to the axis of the reservoir, after the tilt: z cos δ cos γ.
func (p spot) onAxis(tilt, cross float64) spot {
	st, ct := math.Sincos(tilt)
	sc, cc := math.Sincos(cross)
	c := ct * cc
	return spot{p.z * c, p.dx * c, p.dSlope * c, -p.z * st * cc, -p.z * ct * sc}
}
