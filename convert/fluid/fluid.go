// Package fluid gives the density of what stands in a manometer: the liquids, and the air above them.
//
// Every fluid carries its source, the range its source vouches for and the uncertainty of its density. It never
// extrapolates: outside its range it answers with a *RangeError and no value.
package fluid

import "manobridge/convert/quantity"

// MaxOwn bounds how many uncertain inputs a fluid has of its own, temperature not counted.
const MaxOwn = 4

// Fluid is one substance. Implementations are immutable and safe for concurrent use, and At allocates nothing on success.
type Fluid interface {
	// Name is the name it is known by in a configuration.
	Name() string
	// Source says where the formula or the table comes from, edition and equation included.
	Source() string
	// Range is the span of temperatures the source vouches for, both ends included.
	Range() (low, high quantity.Temperature)
	// Inputs lists the fluid's own uncertain inputs, temperature not counted, at most MaxOwn.
	Inputs() []Input
	// At gives the state at a temperature, or a *RangeError.
	At(t quantity.Temperature) (State, error)
}

// Input is one uncertain input of a fluid.
type Input struct {
	Name    string  // "density at reference", "expansion coefficient"
	Value   float64 // best estimate, in Unit
	Unit    string
	U       float64 // standard uncertainty, in Unit; 0 where it is exact
	Assumed bool    // U is our default, not the user's statement
}

// State is a fluid at one temperature.
type State struct {
	Density quantity.Density
	// PerKelvin is dρ/dt in kg/(m³·K); negative for most liquids.
	PerKelvin float64
	// Own holds, for each of Inputs in order, the signed change of density in kg/m³ for one standard uncertainty of
	// that input: ∂ρ/∂x · u(x). The sign matters: the same input at two temperatures is fully correlated.
	Own [MaxOwn]float64
}
