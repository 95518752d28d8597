package fluid

import (
	"math"

	"manobridge/convert/quantity"
)

// WaterSurfaceTension gives the surface tension of clean water against its vapour or air, 0.01 to 100 °C, and its standard
// uncertainty in N/m. A trace of fat or soap takes a third off.
//
//	σ = 0.2358 τ^1.256 (1 − 0.625 τ),   τ = 1 − T/647.096 K
//
// Source: IAPWS R1-76(2014); its u is 0.5 % (from memory), half the tolerance of its table.
func WaterSurfaceTension(t quantity.Temperature) (quantity.SurfaceTension, float64, error) {
	const source = "IAPWS R1-76(2014)"
	if s := celsiusSpan(0, 100); !s.has(t) {
		return 0, 0, s.refuse("water", source, t)
	}
	tau := 1 - float64(t)/647.096
	sigma := 0.2358 * math.Pow(tau, 1.256) * (1 - 0.625*tau)
	return quantity.SurfaceTension(sigma), 0.005 * sigma, nil
}

// The surface tension of mercury near 20 °C in N/m. Published values run from 0.425 (metal in air, some hours old) to
// 0.4865 (clean, in vacuum: J. Perry, J. Roberts 1981, second-hand); this is their middle, with 8 % as standard
// uncertainty. A tarnished surface is lower still.
const (
	MercurySurfaceTension  = quantity.SurfaceTension(0.456)
	MercurySurfaceTensionU = 0.036
)

// MercuryVapourPressure gives the pressure of saturated mercury vapour in Pa, −38.8 to 400 °C, and its standard
// uncertainty. It is what stands over a sealed mercury column; between two limbs of a U-tube it cancels.
//
//	ln(p/pc) = Tc/T (a1 τ + a2 τ^1.89 + a3 τ² + a4 τ⁸ + a5 τ^8.5 + a6 τ⁹),   τ = 1 − T/Tc
//
// Source: M. L. Huber, A. Laesecke, D. G. Friend, The vapor pressure of mercury, NISTIR 6643 (2006), equation 1 (the
// coefficients from memory, checked at the normal boiling point and by the heat of vaporization). Its 3 % (k = 2) below 273 K and
// 1 % above are taken as 1.5 % throughout.
func MercuryVapourPressure(t quantity.Temperature) (quantity.AbsolutePressure, float64, error) {
	const (
		tc, pc = 1764.0, 167e6 // K, Pa
		a1, a2 = -4.57618368, -1.40726277
		a3, a4 = 2.36263541, -31.0889985
		a5, a6 = 58.0183959, -27.6304546
	)
	if s := celsiusSpan(-38.84, 400); !s.has(t) {
		return 0, 0, s.refuse("mercury vapour", "Huber, Laesecke, Friend, NISTIR 6643 (2006)", t)
	}
	tau := 1 - float64(t)/tc
	sum := a1*tau + a2*math.Pow(tau, 1.89) + a3*tau*tau + a4*math.Pow(tau, 8) + a5*math.Pow(tau, 8.5) + a6*math.Pow(tau, 9)
	p := pc * math.Exp(tc/float64(t)*sum)
	return quantity.AbsolutePressure(p), 0.015 * p, nil
}
