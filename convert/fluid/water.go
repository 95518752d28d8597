package fluid

import "manobridge/convert/quantity"

// Water is liquid water at 101.325 kPa, 0 to 100 °C.
//
// Up to 40 °C it is the formula of Tanaka et al. for air-free water of the isotopic make-up of ocean water:
//
//	ρ = a5 (1 − (t+a1)² (t+a2) / (a3 (t+a4)))
//
// Above 40 °C that formula drifts (−154 ppm at 90 °C), and the formula of Kell takes over. Kell's temperatures are of the
// scale IPTS-68, so it is entered with t68 = 1.00024 t90; and its density is multiplied by one constant, 4 ppm above 1,
// which makes the two formulas meet at 40 °C. The constant carries Kell's older maximum density, 999.972 kg/m³, to
// Tanaka's 999.97495 kg/m³.
//
// Not covered: pressures far from 101.325 kPa (about +0.045 ppm per kPa), salts, additives and dyes.
//
// Sources: M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, Recommended table for the density of water between 0 °C
// and 40 °C, Metrologia 38 (2001) 301-309; G. S. Kell, J. Chem. Eng. Data 20 (1975) 97-105; t68/t90 after
// P. M. Saunders, WOCE Newsletter 10 (1990) (from memory).
type Water struct {
	uMakeUp float64 // relative
	assumed bool
}

// DefaultWaterU is the relative standard uncertainty for the unknown make-up of tap or distilled water: isotopes
// and dissolved air. Air saturation alone is −5 to −7 ppm at room temperature (F. E. Jones, G. L. Harris, J. Res. NIST 97
// (1992) 335-340).
const DefaultWaterU = 10e-6

// Relative standard uncertainties of the formulas.
const (
	tanakaU = 0.42e-6 // 0.83e-3 kg/m³ at k = 2; Tanaka et al. 2001, from memory
	// kellU is reached at 50 °C and holds above. The scaled formula lies within 2 ppm of IAPWS-95 there; Kell gives no
	// statement that holds for the scaled form, so 5 ppm is our judgement.
	kellU = 5e-6
)

// waterHandOver is where Kell takes over, in °C; waterRamp is over how many kelvin its uncertainty grows from none.
const (
	waterHandOver = 40
	waterRamp     = 10
)

const waterSource = "Tanaka et al., Metrologia 38 (2001) 301, 0 to 40 °C; Kell, J. Chem. Eng. Data 20 (1975) 97, scaled to meet it, 40 to 100 °C"

var waterSpan = celsiusSpan(0, 100)

// NewWater makes Water. The relative standard uncertainty of its make-up is DefaultWaterU unless stated: about 1e-6 for
// degassed water of known isotopes.
func NewWater(relativeU Uncertainty) (Water, error) {
	if err := relativeU.ok("the make-up of water"); err != nil {
		return Water{}, err
	}
	u, assumed := relativeU.or(DefaultWaterU)
	return Water{uMakeUp: u, assumed: assumed}, nil
}

// Name implements Fluid.
func (Water) Name() string { return "water" }

// Source implements Fluid.
func (Water) Source() string { return waterSource }

// Range implements Fluid.
func (Water) Range() (low, high quantity.Temperature) { return waterSpan.low, waterSpan.high }

// Inputs implements Fluid. All three are relative deviations of the density, best estimate 0.
func (w Water) Inputs() []Input {
	return []Input{
		{Name: "make-up of the water", Unit: "1", U: w.uMakeUp, Assumed: w.assumed},
		{Name: "density formula", Unit: "1", U: tanakaU},
		{Name: "density formula above 40 °C", Unit: "1", U: kellU},
	}
}

// At implements Fluid.
func (w Water) At(t quantity.Temperature) (State, error) {
	if !waterSpan.has(t) {
		return State{}, waterSpan.refuse(w.Name(), waterSource, t)
	}
	tc := t.Celsius()
	rho, slope := tanaka(tc)
	above := 0.0
	if tc > waterHandOver {
		rho, slope = kellScaled(tc)
		above = min((tc-waterHandOver)/waterRamp, 1)
	}
	s := State{Density: quantity.Density(rho), PerKelvin: slope}
	s.Own[0] = rho * w.uMakeUp
	s.Own[1] = rho * tanakaU
	s.Own[2] = rho * above * kellU
	return s, nil
}

// tanaka gives ρ in kg/m³ and dρ/dt at t in °C. Source: Tanaka et al. 2001, equation 1.
func tanaka(t float64) (rho, slope float64) {
	const a1, a2, a3, a4, a5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950
	n := (t + a1) * (t + a1) * (t + a2)
	dn := 2*(t+a1)*(t+a2) + (t+a1)*(t+a1)
	d := a3 * (t + a4)
	return a5 * (1 - n/d), -a5 * (dn - n/(t+a4)) / d
}

// kellDenominator is in 1/°C. Some printed copies have the digits swapped, 16.897850e-3: 272 ppm low at 20 °C.
const kellDenominator = 16.879850e-3

// kell gives ρ in kg/m³ and dρ/dt at t in °C of IPTS-68, b being the coefficient of the denominator.
// Source: Kell 1975, equation 16.
func kell(t, b float64) (rho, slope float64) {
	const (
		c0 = 999.83952
		c1 = 16.945176
		c2 = -7.9870401e-3
		c3 = -46.170461e-6
		c4 = 105.56302e-9
		c5 = -280.54253e-12
	)
	n := c0 + t*(c1+t*(c2+t*(c3+t*(c4+t*c5))))
	dn := c1 + t*(2*c2+t*(3*c3+t*(4*c4+t*5*c5)))
	d := 1 + b*t
	return n / d, (dn - n/d*b) / d
}

// t68PerT90 turns °C of ITS-90 into °C of IPTS-68, good to 0.5 mK between 0 and 100 °C. Source: Saunders 1990.
const t68PerT90 = 1.00024

// kellScale makes Kell meet Tanaka at the hand-over.
var kellScale = func() float64 {
	a, _ := tanaka(waterHandOver)
	b, _ := kell(waterHandOver*t68PerT90, kellDenominator)
	return a / b
}()

// kellScaled is Kell's formula on ITS-90, scaled to meet Tanaka's at 40 °C.
func kellScaled(t float64) (rho, slope float64) {
	rho, slope = kell(t*t68PerT90, kellDenominator)
	return rho * kellScale, slope * t68PerT90 * kellScale
}
