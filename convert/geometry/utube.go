package geometry

import "math"

// UTube is two vertical limbs with their taps level.
//
//	p(high) − p(low) = g [(ρ − ρ_l) z_l − (ρ − ρ_h) z_h] + g (ρ_l − ρ_h) H
//
// which is (ρ − ρ_gas) g h where the same gas stands in both legs, h = z_l − z_h. With one position digitized the other
// meniscus moves the opposite way by the ratio of the bore areas; at the zero both stand level.
//
// Source: F. M. White, Fluid Mechanics, chapter 2, "application to manometry"; the area ratio from equal displaced volumes.
func UTube(highBore, lowBore, highTap, lowTap float64, highDigitized, lowDigitized bool) *TwoLimb {
	return &TwoLimb{
		Name:     "u-tube",
		Equation: "p(high) − p(low) = g [(ρ − ρ_l) z_l − (ρ − ρ_h) z_h] + g (ρ_l − ρ_h) H",
		High:     Limb{Digitized: highDigitized, Slope: math.Pi / 2, BoreArea: BoreArea(highBore), Tap: highTap},
		Low:      Limb{Digitized: lowDigitized, Slope: math.Pi / 2, BoreArea: BoreArea(lowBore), Tap: lowTap},
	}
}

// BoreArea is the area of a round bore, m², from its diameter, m.
func BoreArea(bore float64) float64 { return math.Pi / 4 * bore * bore }

// ClosedUTube is the closed form above, Pa.
func ClosedUTube(m *TwoLimb, s *State, e *Eval) float64 {
	g := s.Gravity
	return g*((s.Liquid-s.LowOver)*e.LowZ-(s.Liquid-s.HighOver)*e.HighZ) +
		g*(s.LowOver*m.Low.Tap-s.HighOver*m.High.Tap) + m.High.Capillary - m.Low.Capillary
}
