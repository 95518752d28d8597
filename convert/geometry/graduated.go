package geometry

import "math"

// Graduated is a scale engraved in a unit of pressure. Whatever the shape behind it, the maker turned heights into
// pressures with one density, one gravity and one temperature; undone, a mark is a height:
//
//	L = R u / ((ρ₀ − ρ_g0) g₀)
//
//	R     reading                                        in the unit
//	u     the unit                                       Pa
//	ρ₀    density of the liquid the scale was made for   kg/m³
//	ρ_g0  gas density the scale was made for             kg/m³
//	g₀    gravity the scale was made for                 m/s²
//
// and the pressure is (ρ − ρ_gas) g (L − L₀) with what holds now. L serves as the position along an upright limb over a
// level that does not move. Source: derived; the correction of an indicated pressure by the ratio of actual to design
// (ρ − ρ_gas) g.
func Graduated(tap float64) *TwoLimb {
	m := Reservoir(math.Pi/2, 0.004, 0.5, tap, tap)
	m.Name = "graduated"
	m.Equation = "p(high) − p(low) = (R − R₀) u (ρ − ρ_gas) g / ((ρ₀ − ρ_g0) g₀)"
	m.High.BoreArea = math.Inf(1)
	return m
}

// MarkHeight is the L above for one of the unit, m; it is NaN where the design values are not possible.
func MarkHeight(unitPa, density, gasDensity, gravity float64) float64 {
	d := (density - gasDensity) * gravity
	if !(d > 0) || !(unitPa > 0) {
		return math.NaN()
	}
	return unitPa / d
}
