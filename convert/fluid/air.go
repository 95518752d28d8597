package fluid

import (
	"fmt"

	"manobridge/convert/quantity"
)

// Air is moist air by the CIPM-2007 equation, at a pressure and a relative humidity that With changes live.
//
// The equation is vouched for from 15 to 27 °C and from 600 to 1100 hPa. Air answers beyond that with a named larger
// uncertainty, AirExtendedU, and Extended tells so. Outside 0 to 50 °C, or MinAirPressure to
// MaxAirPressure, it refuses.
//
// Air in a line at another pressure than the ambient is the same equation at that pressure; the relative humidity is
// then that of the air in the line.
type Air struct {
	p, h, xCO2                   float64
	uP, uH, uCO2                 float64
	pAssumed, hAssumed, cAssumed bool // the uncertainties are our defaults
}

// AirOptions says what air it is. Every uncertainty left out takes the documented default.
type AirOptions struct {
	Pressure  quantity.AbsolutePressure // where the air is: station pressure, not reduced to sea level
	PressureU Uncertainty               // standard, in Pa; left out, DefaultAirPressureU
	Humidity  quantity.Ratio            // relative humidity, 0 to 1
	HumidityU Uncertainty               // standard, as a ratio; left out, DefaultAirHumidityU
	CO2       quantity.Ratio            // mole fraction; 0 means DefaultCO2
	CO2U      Uncertainty               // standard, as a mole fraction; left out, DefaultCO2U
}

// Defaults, common practice, no source, except DefaultCO2.
const (
	DefaultAirPressureU = 100.0 // Pa: a household barometer, set
	DefaultAirHumidityU = 0.05  // a room hygrometer
	DefaultCO2          = 4e-4  // mole fraction the CIPM-2007 equation was written for
	DefaultCO2U         = 2e-4  // occupied rooms run from 4e-4 to 1e-3

	// What Named("air") stands for where no ambient is stated: somewhere between sea level and 500 m, any weather.
	assumedAirPressureU = 3000.0
	assumedAirHumidityU = 0.29 // 0 to 1, rectangular
)

const airSource = "CIPM-2007, Picard et al., Metrologia 45 (2008) 149"

// NewAir makes Air. It refuses a pressure, a humidity or a mole fraction that the equation does not reach.
func NewAir(o AirOptions) (Air, error) {
	a := Air{p: float64(o.Pressure), h: float64(o.Humidity), xCO2: float64(o.CO2)}
	if a.xCO2 == 0 {
		a.xCO2 = DefaultCO2
	}
	for _, err := range []error{
		o.PressureU.ok("the air pressure"), o.HumidityU.ok("the relative humidity"), o.CO2U.ok("the carbon dioxide"),
	} {
		if err != nil {
			return Air{}, err
		}
	}
	if !(a.xCO2 >= 0 && a.xCO2 <= 0.01) {
		return Air{}, &RangeError{Fluid: a.Name(), Quantity: "carbon dioxide mole fraction",
			Seen: a.xCO2, High: 0.01, Source: airSource}
	}
	a.uP, a.pAssumed = o.PressureU.or(DefaultAirPressureU)
	a.uH, a.hAssumed = o.HumidityU.or(DefaultAirHumidityU)
	a.uCO2, a.cAssumed = o.CO2U.or(DefaultCO2U)
	return a, a.check()
}

// StandardAir is air nobody measured: 1013.25 hPa and 50 %, with the wide uncertainties of air anywhere below 500 m.
func StandardAir() Air {
	return Air{
		p: 101325, h: 0.5, xCO2: DefaultCO2,
		uP: assumedAirPressureU, uH: assumedAirHumidityU, uCO2: DefaultCO2U,
		pAssumed: true, hAssumed: true, cAssumed: true,
	}
}

// With gives the same air at another pressure and relative humidity, with the same uncertainties. It allocates nothing
// and checks nothing: At refuses what is out of range.
func (a Air) With(p quantity.AbsolutePressure, humidity quantity.Ratio) Air {
	a.p, a.h = float64(p), float64(humidity)
	return a
}

// Pressure gives the pressure the air is at.
func (a Air) Pressure() quantity.AbsolutePressure { return quantity.AbsolutePressure(a.p) }

// Humidity gives the relative humidity, 0 to 1.
func (a Air) Humidity() quantity.Ratio { return quantity.Ratio(a.h) }

// Name implements Fluid.
func (Air) Name() string { return "air" }

// Source implements Fluid.
func (Air) Source() string { return airSource }

// Range implements Fluid. It is wider than what CIPM-2007 vouches for; see Extended.
func (Air) Range() (low, high quantity.Temperature) { return airSpan.low, airSpan.high }

// Inputs implements Fluid. The last is the deviation of the equation, best estimate 0, counted in units of its relative
// standard uncertainty within the range of CIPM-2007. Beyond that range the density answers more strongly to it, so that
// its contribution is AirExtendedU.
func (a Air) Inputs() []Input {
	return []Input{
		{Name: "air pressure", Value: a.p, Unit: "Pa", U: a.uP, Assumed: a.pAssumed},
		{Name: "relative humidity", Value: a.h, Unit: "1", U: a.uH, Assumed: a.hAssumed},
		{Name: "carbon dioxide mole fraction", Value: a.xCO2, Unit: "1", U: a.uCO2, Assumed: a.cAssumed},
		{Name: "air density equation", Unit: "1", U: AirEquationU},
	}
}

// At implements Fluid.
func (a Air) At(t quantity.Temperature) (State, error) {
	if !airSpan.has(t) {
		return State{}, airSpan.refuse(a.Name(), airSource, t)
	}
	if err := a.check(); err != nil {
		return State{}, err
	}
	d := cipm2007(t.Celsius(), a.p, a.h, a.xCO2)
	s := State{Density: quantity.Density(d.rho), PerKelvin: d.perT}
	s.Own[0] = d.perP * a.uP
	s.Own[1] = d.perH * a.uH
	s.Own[2] = d.perCO2 * a.uCO2
	s.Own[3] = d.rho * a.equationU(t)
	return s, nil
}

// check refuses a pressure or a humidity the equation does not reach. NaN is refused.
func (a Air) check() error {
	if !(a.p >= MinAirPressure && a.p <= MaxAirPressure) {
		return &RangeError{Fluid: a.Name(), Quantity: "pressure", Unit: "hPa",
			Seen: a.p / 100, Low: MinAirPressure / 100, High: MaxAirPressure / 100, Source: airSource}
	}
	if !(a.h >= 0 && a.h <= 1) {
		return &RangeError{Fluid: a.Name(), Quantity: "relative humidity", Unit: "%",
			Seen: a.h * 100, Low: 0, High: 100, Source: airSource}
	}
	return nil
}

// MoistAir gives the density of moist air, with 400 ppm of carbon dioxide, in the same range as Air.
func MoistAir(t quantity.Temperature, p quantity.AbsolutePressure, humidity quantity.Ratio) (quantity.Density, error) {
	s, err := StandardAir().With(p, humidity).At(t)
	if err != nil {
		return 0, fmt.Errorf("moist air: %w", err)
	}
	return s.Density, nil
}
