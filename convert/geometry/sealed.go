package geometry

import "math"

// Cistern says how the level under a sealed limb is known.
type Cistern uint8

// The three.
const (
	NoCistern         Cistern = iota // both limbs are read
	FixedCistern                     // it moves by the volume balance from the neutral reading
	AdjustableCistern                // it is set to the scale's zero before every reading
)

// Sealed is an open limb or cistern on the high side and a limb closed over vapour on the low side; the walk ends in the
// vapour.
//
//	p(high) = g [ρ (z_l − z_h) − ρ_h (H_h − z_h)] + C_h − C_l + p_v
//
//	z_h, z_l  heights of the open and the closed surface        m
//	H_h       height of the tap; the surface itself where open  m
//	ρ_h       gas over the open surface                         kg/m³
//	C         capillary fall of pressure at each surface        Pa
//	p_v       pressure of the vapour over the closed surface    Pa
//
// With a fixed cistern z_h = −(x − x_n) a/A, x_n being the neutral reading at which the scale is true: the true height is
// then x + (x − x_n) a/A. With an adjustable one, or a scale divided to allow for the cistern, z_h stays at the scale's
// zero. p_v is the caller's to add. Source: World Meteorological Organization, Guide to Instruments and Methods of
// Observation (WMO-No. 8), volume I, chapter 3, mercury barometers (from memory); derived here from the walk.
func Sealed(highBore, lowBore, areaRatio, neutral, tap float64, cistern Cistern) *TwoLimb {
	m := UTube(highBore, lowBore, tap, tap, cistern == NoCistern, true)
	m.Name = "sealed"
	m.Equation = "p(high) = g [ρ (z_l − z_h) − ρ_h (H_h − z_h)] + C_h − C_l + p_v"
	switch cistern {
	case FixedCistern:
		m.High.BoreArea = m.Low.BoreArea / areaRatio
		m.Tie.Low = neutral
	case AdjustableCistern:
		m.High.BoreArea = math.Inf(1)
	}
	return m
}
