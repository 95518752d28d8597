package simulate

import "math"

// zeroCelsius is 0 °C in K, exact by definition. Source: SI Brochure, 9th edition (2019), 2.3.1.
const zeroCelsius = 273.15

// Constants of dry air and water vapour.
const (
	gasConstant = 8.314462618 // J/(mol·K), exact. Source: SI Brochure, 9th edition (2019), from k and N_A.
	// molarAir is dry air: 28.9644 g/mol at 314 µmol/mol of carbon dioxide (U.S. Standard Atmosphere, 1976, table 3),
	// brought to 400 µmol/mol by exchanging oxygen for carbon dioxide, 12.011 g/mol times the excess.
	molarAir   = 28.9644e-3 + 12.011e-3*86e-6 // kg/mol
	molarWater = 18.01528e-3                  // kg/mol. Source: IAPWS R6-95(2018), section 1, M = R/R_specific.
)

// kellWater gives the density in kg/m³ of air-free water at atmospheric pressure, t in °C, 0 to 100.
// Within 4 ppm of IAPWS-95 from 0 °C to 60 °C.
//
// Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, equation for 0 °C to 150 °C (IPTS-68 temperatures; the difference
// to ITS-90 is below 0.01 K here, 2 ppm).
func kellWater(t float64) float64 {
	num := 999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9-t*280.54253e-12))))
	return num / (1 + 16.879850e-3*t)
}

// moistAir gives the density of moist air in kg/m³ from its temperature in °C, its absolute pressure in Pa and its
// relative humidity, 0 to 1. For 0 °C to 40 °C near atmospheric pressure; within 1e-4 relative of the equation
// metrologists weigh with, far below what buoyancy of 0.14 % could make visible.
//
//	ρ = p M / (R T Z),  M = M_a + x (M_w − M_a),  x = h f e / p,  Z = 1 + B p / (R T)
//
// Saturation pressure e over water: 611.2 Pa · exp(17.62 t / (243.12 + t)), with the enhancement
// f = 1.0016 + 3.15e-8/Pa · p − 7.4 Pa/p. Source: WMO-No. 8 (2008), annex 4.B.
// Second virial coefficients of air and of air with water: R. W. Hyland and A. Wexler, ASHRAE Trans. 89 (1983) 500;
// that of water vapour near 20 °C, −1.25e-3 m³/mol, is a round value, 1 part in 1e5 of the density. All three from memory.
func moistAir(t, p, h float64) float64 {
	T := t + zeroCelsius
	e := 611.2 * math.Exp(17.62*t/(243.12+t))
	f := 1.0016 + 3.15e-8*p - 7.4/p
	x := h * f * e / p
	bAir := (34.9568 - 6687.72/T - 2101410/(T*T) + 92474600/(T*T*T)) * 1e-6
	bAirWater := (32.366097 - 14113.8/T - 1244535/(T*T) - 2.348789e9/(T*T*T*T)) * 1e-6
	const bWater = -1.25e-3
	B := (1-x)*(1-x)*bAir + 2*x*(1-x)*bAirWater + x*x*bWater
	M := molarAir + x*(molarWater-molarAir)
	Z := 1 + B*p/(gasConstant*T)
	return p * M / (gasConstant * T * Z)
}

// densityOf gives a drawn liquid's true density in kg/m³ at t in °C.
//
//	ρ = ρ_ref / (1 + β (t − t_ref))     a liquid its owner described: volume grows linearly
//	ρ = ρ_Kell(t) · purity              water, purity a drawn factor close to 1
func (l *liquidTruth) densityOf(t float64) float64 {
	if l.water {
		return kellWater(t) * l.purity
	}
	return l.refDensity / (1 + l.expansion*(t-l.refC))
}
