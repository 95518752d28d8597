// Package gravity gives the local acceleration of free fall with its uncertainty: a measured value, or normal gravity
// from latitude and height. It refuses a value that no place on land has, and never falls back on a standard value
// by itself.
package gravity

import (
	"fmt"
	"math"
	"strconv"

	"manobridge/convert/quantity"
)

// Gravity is the local acceleration of free fall.
type Gravity struct {
	Value quantity.Acceleration
	// U is the standard uncertainty in m/s².
	U float64
	// Source says where the value comes from, for a report.
	Source string
	// Assumed says that U is our default and not a statement of the user's.
	Assumed bool
}

// Standard is the conventional standard value in m/s², exact: what the units of column pressure are defined with. It is
// not the gravity of any place. Source: 3rd CGPM (1901).
const Standard = 9.80665

// FromPlaceU is the standard uncertainty, in m/s², of normal gravity as a value for a real place: rock and terrain
// shift it by typically 3e-4 m/s² and by up to 1e-3 m/s² in mountains. Common practice, from memory.
const FromPlaceU = 3e-4

// Limits of what is accepted.
const (
	minGravity = 9.76  // m/s²; the lowest on land is 9.7639, on Huascarán (from memory)
	maxGravity = 9.835 // m/s²; normal gravity at the poles is 9.83219
	minHeight  = -500.0
	maxHeight  = 6000.0 // m
)

// Measured takes a value somebody measured or a survey gave.
//
//	value  m/s²   9.76 to 9.835
//	u      m/s²   standard uncertainty, 0 (exact by definition) to 0.01
func Measured(value quantity.Acceleration, u float64) (Gravity, error) {
	if v := float64(value); !(v >= minGravity && v <= maxGravity) {
		return Gravity{}, outside("gravity", v, minGravity, maxGravity, "m/s²", "the location's gravity")
	}
	if !(u >= 0 && u <= 0.01) {
		return Gravity{}, outside("standard uncertainty of gravity", u, 0, 0.01, "m/s²", "the location's gravity")
	}
	return Gravity{Value: value, U: u, Source: "measured value, as stated"}, nil
}

// FromLatitude gives normal gravity of the WGS 84 ellipsoid at a latitude and a height, with u = FromPlaceU.
//
//	γ0 = γe (1 + k s) / √(1 − e² s),   s = sin²(latitude)
//	γ  = γ0 (1 − 2/a (1 + f + m − 2 f s) H + 3 H²/a²)
//
//	latitude  geographic, north positive                 rad   −π/2 to π/2
//	height    above the ellipsoid; above sea level will  m     −500 to 6000
//	          do, the difference is below 100 m, 3e-4 m/s²
//
// Within 4e-7 m/s² of the exact normal gravity up to 4 km. Source: NIMA TR8350.2, Department of Defense World Geodetic
// System 1984, 3rd edition (2000), equations 4-1 and 4-3.
func FromLatitude(latitude quantity.Angle, height quantity.Length) (Gravity, error) {
	if err := checkPlace(latitude, height); err != nil {
		return Gravity{}, err
	}
	return place(normal(float64(latitude), float64(height)), "normal gravity of WGS 84 at the latitude and height"), nil
}

// FromLatitudeWMO gives theoretical gravity the way barometry has it. It is offered for agreement with records made
// with it: as printed, it is 11 ppm below normal gravity at the equator and the poles.
//
//	g = 9.80620 (1 − 0.0026442 c − 0.0000058 c²) − 3.086e-6 H + 1.118e-6 (H − H'),   c = cos(2 latitude)
//
//	height   of the station above sea level, H           m    −500 to 6000
//	terrain  mean height of the terrain within 150 km,   m    −500 to 6000
//	         H'; for flat country the same as height
//
// Source: WMO-No. 8, Guide to Meteorological Instruments and Methods of Observation, part I, chapter 3, annex 3.A; read
// in two transcriptions.
func FromLatitudeWMO(latitude quantity.Angle, height, terrain quantity.Length) (Gravity, error) {
	if err := checkPlace(latitude, height); err != nil {
		return Gravity{}, err
	}
	if err := checkPlace(latitude, terrain); err != nil {
		return Gravity{}, err
	}
	c, h, hTerrain := math.Cos(2*float64(latitude)), float64(height), float64(terrain)
	g := 9.80620*(1-0.0026442*c-0.0000058*c*c) - 3.086e-6*h + 1.118e-6*(h-hTerrain)
	return place(g, "theoretical gravity of WMO-No. 8 at the latitude and height"), nil
}

// normal is normal gravity in m/s², latitude in rad, height in m. The constants are those of WGS 84.
func normal(latitude, height float64) float64 {
	const (
		gammaE = 9.7803253359     // m/s², at the equator
		k      = 0.00193185265241 // Somigliana's constant
		e2     = 0.00669437999013 // first eccentricity squared
		a      = 6378137.0        // m, semi-major axis
		f      = 1 / 298.257223563
		m      = 0.00344978650684 // ω² a² b/GM
	)
	s := math.Sin(latitude)
	s *= s
	gamma0 := gammaE * (1 + k*s) / math.Sqrt(1-e2*s)
	return gamma0 * (1 - 2/a*(1+f+m-2*f*s)*height + 3*height*height/(a*a))
}

// place wraps a computed value.
func place(g float64, source string) Gravity {
	return Gravity{Value: quantity.MetresPerSecondSquared(g), U: FromPlaceU, Source: source, Assumed: true}
}

// checkPlace refuses a place that is not on land on Earth.
func checkPlace(latitude quantity.Angle, height quantity.Length) error {
	if phi := latitude.Degrees(); !(phi >= -90 && phi <= 90) {
		return outside("latitude", phi, -90, 90, "°", "the location's latitude")
	}
	if h := float64(height); !(h >= minHeight && h <= maxHeight) {
		return outside("height", h, minHeight, maxHeight, "m", "the location's height, which is in metres")
	}
	return nil
}

// outside words a refusal.
func outside(what string, seen, low, high float64, unit, check string) error {
	n := func(v float64) string { return strconv.FormatFloat(v, 'g', 8, 64) }
	return fmt.Errorf("%s is %s %s; allowed: %s to %s %s; check %s", what, n(seen), unit, n(low), n(high), unit, check)
}
