// Package geometry is the shape of the instrument: where the menisci stand for the positions read, and what pressure
// that means.
//
// Every kind rests on one hydrostatic walk (walk.go): start at the high tap, go through each fluid column to the low
// tap, add ρ g Δz. The kinds differ only in how positions become heights; each has one file with its equation in words,
// its closed form and its constructor. Partial derivatives come with every evaluation, so that uncertainty needs no
// second model.
//
// The package knows no fluid by name and no temperature scale: densities come in, pressures go out, all in SI units.
// It refuses what cannot be built (a slope of zero, a bore wider than its reservoir) with a *RangeError.
package geometry

import (
	"fmt"
	"math"
)

// Var numbers the quantities a pressure depends on, for the partial derivatives in Eval.Grad.
type Var int

// The variables. Lengths in m, angles in rad, densities in kg/m³, temperatures in K, expansions in 1/K.
const (
	HighPosition Var = iota // position read along the scale of the high limb
	LowPosition
	TieHighPosition // positions of the pair that fixes the volume
	TieLowPosition
	HighSlope // angle above horizontal
	LowSlope
	AreaRatio // bore area of the digitized limb over that of the other (tube over reservoir)
	HighScaleZero
	LowScaleZero
	HighTap
	LowTap
	Gravity // m/s²
	LiquidDensity
	HighOverDensity
	LowOverDensity
	TieLiquidDensity // when the tie was taken
	Temperature      // of liquid, scale and body, as far as the shape depends on it; densities come on their own
	TieTemperature   // the same when the tie was taken
	ScaleExpansion
	Tilt
	CrossTilt
	ChargeVolume
	BodyExpansion
	LineDensity  // over the chambers of a two-liquid instrument
	ChamberRatio // bore area of the tube over that of a chamber
	NumVars
)

var varNames = [NumVars]string{
	"high-limb position", "low-limb position", "tie high-limb position", "tie low-limb position", "high-limb slope",
	"low-limb slope", "area ratio", "high scale zero height", "low scale zero height", "high tap height",
	"low tap height", "gravity", "liquid density", "high over-fluid density", "low over-fluid density",
	"tie liquid density", "liquid temperature", "tie temperature", "scale expansion", "tilt", "cross tilt",
	"charge volume", "body expansion", "line-fluid density", "chamber area ratio",
}

// String names the variable in the words of the bench.
func (v Var) String() string {
	if v < 0 || v >= NumVars {
		return fmt.Sprintf("variable %d", int(v))
	}
	return varNames[v]
}

// State is what a pressure is computed from: the positions as read and the conditions.
type State struct {
	High, Low         float64 // m along the scale, as read; ignored where the limb is not digitized
	Temperature       float64 // K, liquid and scale
	Gravity           float64 // m/s²
	Liquid            float64 // kg/m³
	HighOver, LowOver float64 // kg/m³, between meniscus and tap
	Line              float64 // kg/m³, over the chambers of a two-liquid instrument
	Tilt              float64 // rad, positive raises the far end of the tube
	TieLiquid         float64 // kg/m³ at the tie; used by the growth of the charge only
}

// Eval is one evaluation: the pressure the walk gives, where the menisci stand, and every partial derivative.
type Eval struct {
	Pressure float64 // p(high tap) − p(low tap), Pa, no zero subtracted
	// HighZ and LowZ are the heights of the menisci above the common level, m.
	HighZ, LowZ float64
	// HighX and LowX are true lengths along the limbs, m: scale corrected, and computed where not digitized.
	HighX, LowX float64
	// Grad holds ∂Pressure/∂Var in SI units.
	Grad [NumVars]float64
}

// RangeError says that a quantity of the geometry is outside what can be built or computed.
type RangeError struct {
	Quantity string
	Seen     string
	Allowed  string
}

// Error gives one line with the value seen and the range allowed.
func (e *RangeError) Error() string {
	return fmt.Sprintf("%s %s is outside %s", e.Quantity, e.Seen, e.Allowed)
}

// inOpenClosed checks lo < v ≤ hi; NaN fails.
func inOpenClosed(what string, v, lo, hi, scale float64, unit string) error {
	if v > lo && v <= hi {
		return nil
	}
	return &RangeError{
		Quantity: what, Seen: fmt.Sprintf("%g %s", v*scale, unit),
		Allowed: fmt.Sprintf("above %g to %g %s", lo*scale, hi*scale, unit),
	}
}

const degPerRad = 180 / math.Pi
