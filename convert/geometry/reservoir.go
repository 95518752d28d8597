package geometry

import "math"

// Reservoir is a wide reservoir on the high side and one inclined limb on the low side.
//
//	p(high) − p(low) = g L [(ρ − ρ_l) sin θ + (ρ − ρ_h) a/A]
//
//	L    length moved along the limb from the zero     m
//	θ    slope of the limb above horizontal            rad  0 < θ ≤ π/2
//	a/A  bore area of the limb over the free area of   1    0 < a/A < 1
//	     the reservoir
//
// with the taps level and the same gas in both legs; a gas of another density in one leg, or taps at different heights,
// add their columns in the walk. Assumes a uniform bore. At a/A → 0 it is the plain inclined limb.
//
// Source: derived from the walk with z_l = L sin θ and z_h = −L a/A; the form (ρ − ρ_air) g L (sin θ + a/A) is the
// textbook one, e.g. R. W. Fox and A. T. McDonald, Introduction to Fluid Mechanics, chapter 3, inclined-tube manometer.
func Reservoir(slope, bore, areaRatio, highTap, lowTap float64) *TwoLimb {
	a := BoreArea(bore)
	return &TwoLimb{
		Name:     "inclined-reservoir",
		Equation: "p(high) − p(low) = g L [(ρ − ρ_l) sin θ + (ρ − ρ_h) a/A]",
		High:     Limb{Slope: math.Pi / 2, BoreArea: a / areaRatio, Tap: highTap},
		Low:      Limb{Digitized: true, Slope: slope, BoreArea: a, Tap: lowTap},
		Tie:      Tie{Level: true},
	}
}

// ClosedReservoir is the closed form above with its tap columns, Pa, for the length moved since the zero.
func ClosedReservoir(m *TwoLimb, s *State, moved float64) float64 {
	r := m.Low.BoreArea / m.High.BoreArea
	sin := math.Sin(m.Low.Slope)
	return s.Gravity*moved*((s.Liquid-s.LowOver)*sin+(s.Liquid-s.HighOver)*r) +
		s.Gravity*(s.LowOver*m.Low.Tap-s.HighOver*m.High.Tap)
}
