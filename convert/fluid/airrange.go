package fluid

import "manobridge/convert/quantity"

// Where the equation of moist air is used, and how well it is trusted there.
const (
	// AirEquationU is the relative standard uncertainty of the equation itself, within its range.
	// Source: CIPM-2007, table 2.
	AirEquationU = 22e-6
	// AirExtendedU is the relative standard uncertainty beyond that range, from 0 to 50 °C and from MinAirPressure to
	// MaxAirPressure. It rests on a comparison with another equation of state, humid air of IAPWS G8-10 (dry air of
	// Lemmon et al. 2000, water of IAPWS-95): over the whole of that range the two differ by at most 164 ppm, at 50 °C,
	// 500 hPa and saturation; by 40 ppm up to 40 °C at the pressures of an atmosphere; and by 130 ppm in dry air at
	// 1 MPa. Taken as the half-width of a rectangle: 164/√3 = 95 ppm.
	AirExtendedU = 100e-6

	// MinAirPressure and MaxAirPressure bound what Air answers for, in Pa.
	MinAirPressure = 50e3
	MaxAirPressure = 1e6

	minKnownPressure = 60e3  // Pa; CIPM-2007, section 2
	maxKnownPressure = 110e3 // Pa; same
)

var (
	airSpan      = celsiusSpan(0, 50)
	airSpanKnown = celsiusSpan(15, 27) // CIPM-2007, section 2
)

// Extended tells whether the air at t is outside what CIPM-2007 vouches for, so that AirExtendedU applies.
func (a Air) Extended(t quantity.Temperature) bool {
	return !airSpanKnown.has(t) || a.p < minKnownPressure || a.p > maxKnownPressure
}

// equationU is the relative standard uncertainty of the equation at t.
func (a Air) equationU(t quantity.Temperature) float64 {
	if a.Extended(t) {
		return AirExtendedU
	}
	return AirEquationU
}
