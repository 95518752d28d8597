// Package quantity gives every physical value of the bridge a type of its own, holding the coherent SI unit.
//
// A swap of two arguments fails to compile, and what physics keeps apart stays apart: gauge, absolute and
// differential pressure are three types, and a temperature is not a temperature difference. A formula unwraps to
// float64 locals named by symbol, computes, and wraps once. Values are made by the constructors, never from a bare
// literal. The package refuses to guess a unit: text without one does not parse.
package quantity

import "math"

// The types, each a float64 in the unit named. The zero value is zero of that unit.
type (
	// Length is in metres (m).
	Length float64
	// Angle is in radians (rad).
	Angle float64
	// Area is in square metres (m²).
	Area float64
	// Volume is in cubic metres (m³).
	Volume float64
	// Density is in kilograms per cubic metre (kg/m³).
	Density float64
	// Acceleration is in metres per second squared (m/s²).
	Acceleration float64
	// Temperature is a thermodynamic temperature in kelvin (K).
	Temperature float64
	// TemperatureDifference is an interval in kelvin (K).
	TemperatureDifference float64
	// ExpansionCoefficient is a relative change per kelvin (1/K).
	ExpansionCoefficient float64
	// GaugePressure is against the local atmosphere, in pascals (Pa).
	GaugePressure float64
	// AbsolutePressure is against vacuum, in pascals (Pa).
	AbsolutePressure float64
	// DifferentialPressure is p(high) − p(low), in pascals (Pa).
	DifferentialPressure float64
	// SurfaceTension is in newtons per metre (N/m).
	SurfaceTension float64
	// Ratio is a number without a unit (1).
	Ratio float64
)

// ZeroCelsius is 0 °C in kelvin, exact by definition. Source: BIPM, The International System of Units, 9th edition (2019), 2.3.1.
const ZeroCelsius = 273.15

// Metres makes a Length from metres.
func Metres(v float64) Length { return Length(v) }

// Millimetres makes a Length from millimetres.
func Millimetres(v float64) Length { return Length(v / 1000) }

// Millimetres gives the length in millimetres.
func (l Length) Millimetres() float64 { return float64(l) * 1000 }

// Degrees makes an Angle from degrees.
func Degrees(v float64) Angle { return Angle(v * math.Pi / 180) }

// Radians makes an Angle from radians.
func Radians(v float64) Angle { return Angle(v) }

// Degrees gives the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a) * 180 / math.Pi }

// KilogramsPerCubicMetre makes a Density.
func KilogramsPerCubicMetre(v float64) Density { return Density(v) }

// MetresPerSecondSquared makes an Acceleration.
func MetresPerSecondSquared(v float64) Acceleration { return Acceleration(v) }

// Celsius makes a Temperature from degrees Celsius.
func Celsius(v float64) Temperature { return Temperature(v + ZeroCelsius) }

// Celsius gives the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t) - ZeroCelsius }

// Kelvins makes a TemperatureDifference.
func Kelvins(v float64) TemperatureDifference { return TemperatureDifference(v) }

// PerKelvin makes an ExpansionCoefficient.
func PerKelvin(v float64) ExpansionCoefficient { return ExpansionCoefficient(v) }
