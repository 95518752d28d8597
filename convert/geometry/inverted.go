package geometry

// InvertedUTube is a U standing on its head: the lighter manometer liquid, or air, on top, the line fluid below.
//
//	p(high) − p(low) = g (ρ_line − ρ) (z_h − z_l) + ρ_line g (H_l − H_h)
//
//	ρ         density of the liquid, or air, on top  kg/m³
//	ρ_line    density of the line fluid below it     kg/m³
//	z_h, z_l  heights of the interfaces              m
//	H_h, H_l  heights of the taps, below them        m
//
// It stands higher in the high limb when the pressure is positive. Source: derived from the walk; e.g. R. K. Bansal, A
// Textbook of Fluid Mechanics, inverted U-tube differential manometer.
func InvertedUTube(highBore, lowBore, highTap, lowTap float64) *TwoLimb {
	m := UTube(highBore, lowBore, highTap, lowTap, true, true)
	m.Name, m.TapsBelow = "inverted-u-tube", true
	m.Equation = "p(high) − p(low) = g (ρ_line − ρ) (z_h − z_l) + ρ_line g (H_l − H_h)"
	return m
}

// ClosedInverted is the closed form above, Pa.
func ClosedInverted(m *TwoLimb, s *State, e *Eval) float64 {
	return s.Gravity*(s.HighOver-s.Liquid)*(e.HighZ-e.LowZ) + s.HighOver*s.Gravity*(m.Low.Tap-m.High.Tap)
}
