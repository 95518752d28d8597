package geometry

import "math"

// LimbPair is any two limbs, each with its own slope, bore, scale, over-fluid and tap.
//
//	p(high) − p(low) = g [ρ (z_l − z_h) − ρ_h (H_h − z_h) + ρ_l (H_l − z_l)]
//	z = Z + x sin θ        x_j = x′_j − (x_i − x′_i) a_i/a_j where only limb i is digitized
//
//	Z     height of the scale's zero above the common level  m
//	x     true length along the limb                         m
//	x′    the same at the tie                                m
//	a     bore areas                                         m²
//	H     heights of the taps                                m
//
// Assumes each over-fluid fills its limb from the meniscus to the tap. Source: derived from the walk of walk.go.
func LimbPair(high, low Limb, tie Tie) *TwoLimb {
	return &TwoLimb{
		Name:     "limb-pair",
		Equation: "p(high) − p(low) = g [ρ (z_l − z_h) − ρ_h (H_h − z_h) + ρ_l (H_l − z_l)]",
		High:     high, Low: low, Tie: tie,
	}
}

// ClosedLimbPair writes the pressure as that at the tie plus what the movement s of the low limb adds, Pa:
//
//	p = p′ + g s [(ρ − ρ_l) sin θ_l + (ρ − ρ_h) q sin θ_h],  q = a_l/a_h
//
// for a low limb digitized alone and no change of temperature since the tie.
func ClosedLimbPair(m *TwoLimb, s *State, moved float64) float64 {
	zh := m.High.ScaleZero + m.Tie.High*math.Sin(m.High.Slope)
	zl := m.Low.ScaleZero + m.Tie.Low*math.Sin(m.Low.Slope)
	atTie := s.Liquid*(zl-zh) - s.HighOver*(m.High.Tap-zh) + s.LowOver*(m.Low.Tap-zl)
	q := m.Low.BoreArea / m.High.BoreArea
	return s.Gravity * (atTie + moved*((s.Liquid-s.LowOver)*math.Sin(m.Low.Slope)+
		(s.Liquid-s.HighOver)*q*math.Sin(m.High.Slope)))
}
