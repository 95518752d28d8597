package secondway

import (
	"fmt"
	"math"
)

// Liquid is a fluid whose density follows ρ = Density/(1 + Expansion·(t − Reference)). A gas of given density is a
// Liquid without expansion. The zero value is a fluid without weight (a vacuum).
type Liquid struct {
	Density   float64 // kg/m³ at Reference
	Reference float64 // K
	Expansion float64 // 1/K, volumetric
}

// At gives the density in kg/m³ at the temperature t in K.
func (l Liquid) At(t float64) float64 { return l.Density / (1 + l.Expansion*(t-l.Reference)) }

// Through is the Liquid that has the density rho0 at t0 and rho1 at t1 (kg/m³, K), so that any density law can be used
// at two temperatures. At equal temperatures it does not expand.
func Through(t0, rho0, t1, rho1 float64) Liquid {
	l := Liquid{Density: rho0, Reference: t0}
	if t1 != t0 {
		l.Expansion = (rho0/rho1 - 1) / (t1 - t0)
	}
	return l
}

// Scale is a graduated length, true at Reference: a true length is the shown one times 1 + Expansion·(t − Reference).
type Scale struct {
	Expansion float64 // 1/K, linear
	Reference float64 // K
}

// grown is the factor from a shown length to the true one at t.
func (s Scale) grown(t float64) float64 { return 1 + s.Expansion*(t-s.Reference) }

// Capillarity is the surface of the gauge liquid against what stands above it. The pressure falls by 4·σ·cos(angle)/bore
// on entering the liquid (Young and Laplace for a spherical meniscus; Jurin's rise is this jump over ρ·g).
type Capillarity struct {
	Tension      float64 // N/m; 0 switches it off
	ContactAngle float64 // rad, through the liquid: below π/2 it wets, above it is depressed
}

func (c Capillarity) jump(bore float64) float64 {
	return 4 * c.Tension * math.Cos(c.ContactAngle) / bore
}

// Charge is the whole filling, for the drift of the zero with temperature. The mass stays; the body around it grows.
//
// With FixedBores unset the body grows in all its lengths alike: bores, limbs, the height of the scale zeros, and the
// hollow below them. With FixedBores set only the hollow below the rest level grows, by the cube, and bores and
// lengths stay as described: the simplification many closed formulas make, different in second order.
type Charge struct {
	Volume        float64 // m³ when filled; 0 switches the effect off
	BodyExpansion float64 // 1/K, linear
	FixedBores    bool
}

// Tilt is how the base stands. The body is first turned in the plane of the tube, then about the horizontal line
// in that plane. A point at x along the base and z above it comes to (x·sin In + z·cos In)·cos Across.
type Tilt struct {
	In     float64 // rad; positive raises the far end of the tube
	Across float64 // rad
}

// Leg is what stands between a meniscus and its tap.
type Leg struct {
	Fluid Liquid
	Tap   float64 // m, height of the tap, fixed in the room
}

// Setting is what all kinds share: the place, the temperatures and the effects that may be switched on.
type Setting struct {
	G           float64 // m/s²
	T           float64 // K, of liquid and scale now
	ZeroT       float64 // K, of liquid and scale at the zero, with both taps joined
	Scale       Scale
	Charge      Charge
	Capillarity Capillarity
	Tilt        Tilt
	ZeroTilt    Tilt // as the base stood at the zero
}

// Positions is where the menisci stand. Shown values are along the limb, in m of the scale.
type Positions struct {
	High, Low         float64 // shown now
	ZeroHigh, ZeroLow float64 // shown at the zero: taps joined, at ZeroT
	Head, ZeroHead    float64 // m, true height of the low meniscus above the high one, now and at the zero
}

// positive refuses what is not a finite number above zero.
func positive(name string, v float64) error {
	if !(v > 0) || math.IsInf(v, 0) {
		return fmt.Errorf("%s is %v; it must be a finite number above 0", name, v)
	}
	return nil
}

// finite refuses NaN and infinity.
func finite(name string, v float64) error {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("%s is %v; it must be finite", name, v)
	}
	return nil
}

// circle is the area of a round bore.
func circle(d float64) float64 { return math.Pi / 4 * d * d }
