package geometry

import "math"

// Chambers are the two wide chambers over the narrow U of a two-liquid instrument.
type Chambers struct {
	// Ratio is bore area of the tube over that of a chamber, 0 < a/A < 1.
	Ratio float64
	// Level is the height of the surfaces in the chambers when they stand level, m. It cancels; it is for the walk to show.
	Level float64
}

// TwoLiquid is a narrow U that holds the manometer liquid, under two wide chambers that hold a lighter one, under the
// line fluid.
//
//	p(high) − p(low) = g h [ρ − ρ_c (1 − a/A) − ρ_line a/A]
//
//	h       z_l − z_h of the interfaces in the tube, less that at the zero  m
//	ρ       density of the liquid in the tube                               kg/m³
//	ρ_c     density of the liquid in the chambers                           kg/m³
//	ρ_line  density of what stands over the chambers                        kg/m³
//	a/A     bore area of the tube over that of a chamber                    1
//
// When an interface rises by s in its limb, the surface of that chamber rises by s a/A. The zero pair is taken with the
// chambers level. Source: textbook of fluid mechanics, two-liquid micromanometer with large ends; derived here from
// the walk.
func TwoLiquid(bore, chamberBore, tap float64) *TwoLimb {
	m := UTube(bore, bore, tap, tap, true, true)
	m.Name = "two-liquid"
	m.Equation = "p(high) − p(low) = g h [ρ − ρ_c (1 − a/A) − ρ_line a/A]"
	m.Chambers = Chambers{Ratio: math.Pow(bore/chamberBore, 2), Level: tap}
	return m
}

// chambers adds what the surfaces in the chambers add to the walk, over ρ_c reaching up to level taps:
//
//	(ρ_line − ρ_c) (a/A) [(z_h − z_l) − (z′_h − z′_l)]
//
// with z′ at the tie. It returns heads in kg/m², adds to the derivatives by the heights, and sets the rest.
func (m *TwoLimb) chambers(s *State, e *Eval, h, l *meniscus, pzh, pzl *float64) float64 {
	dt := m.Tie.Temperature - m.ScaleReference
	k := 1 + m.ScaleExpansion*dt
	oh, ol := m.High.at(m.Tie.High*k, s.Tilt, m.CrossTilt), m.Low.at(m.Tie.Low*k, s.Tilt, m.CrossTilt)
	r, contrast := m.Chambers.Ratio, s.Line-s.HighOver
	d := (h.x - l.x) - (m.High.ScaleZero + oh.z - m.Low.ScaleZero - ol.z)
	c := s.Gravity * contrast * r
	*pzh += c
	*pzl -= c
	G := &e.Grad
	G[ChamberRatio] = s.Gravity * contrast * d
	G[LineDensity] = s.Gravity * r * d
	// The chamber liquid is filed under both limbs; its whole effect here goes with the high one.
	G[HighOverDensity] = -s.Gravity * r * d
	G[TieHighPosition], G[TieLowPosition] = -c*oh.dx*k, c*ol.dx*k
	G[ScaleExpansion] = -c * (oh.dx*m.Tie.High - ol.dx*m.Tie.Low) * dt
	G[HighSlope], G[LowSlope] = -c*oh.dSlope, c*ol.dSlope
	G[Tilt], G[CrossTilt] = c*(ol.dTilt-oh.dTilt), c*(ol.dCross-oh.dCross)
	G[HighScaleZero], G[LowScaleZero] = -c, c // at the tie as now
	G[TieTemperature] = -c * (oh.dx*m.Tie.High - ol.dx*m.Tie.Low) * m.ScaleExpansion
	return contrast * r * d
}

// surfaces gives the heights of the surfaces in the chambers.
func (m *TwoLimb) surfaces(s *State, e *Eval) (high, low float64) {
	k := 1 + m.ScaleExpansion*(m.Tie.Temperature-m.ScaleReference)
	zh, zl := m.High.at(m.Tie.High*k, s.Tilt, m.CrossTilt).z+m.High.ScaleZero, m.Low.at(m.Tie.Low*k, s.Tilt, m.CrossTilt).z+m.Low.ScaleZero
	r := m.Chambers.Ratio
	return m.Chambers.Level + r*(e.HighZ-zh), m.Chambers.Level + r*(e.LowZ-zl)
}
