package fluid

import (
	"fmt"

	"manobridge/convert/quantity"
)

// Mercury is liquid mercury at 101.325 kPa, −20 to 100 °C.
//
//	ρ(t) = ρ20 · q(20)/q(t),   q(t) = 1 + 1.815868e-4 t + 5.4583e-9 t² + 3.4980e-11 t³ + 1.5558e-14 t⁴,   t in °C, ITS-90
//
// Not covered: amalgams and dissolved metals beyond the stated uncertainty, and pressure (about +0.04 ppm per kPa).
//
// Sources: ρ20 after H. Bettin, H. Fehlauer, Density of mercury - measurements and reference values, Metrologia 41
// (2004) S16-S23; the expansion after J. A. Beattie et al., Proc. Am. Acad. Arts Sci. 74 (1941) 371, in its
// ITS-90 form.
type Mercury struct {
	rho20, uRho20 float64
	assumed       bool
}

// MercuryOptions says what is known of the metal. The zero value is unassayed mercury of normal isotopic make-up.
type MercuryOptions struct {
	Density  quantity.Density // at 20 °C and 101.325 kPa; 0 means the reference value, 13545.859 kg/m³
	DensityU Uncertainty      // standard, in kg/m³; left out, DefaultMercuryU applies
}

// Mercury's constants.
const (
	MercuryDensity20 = 13545.859 // kg/m³ at 20 °C; Bettin and Fehlauer 2004
	// DefaultMercuryU is 10 ppm, for metal of unknown purity; 1 ppm (0.014 kg/m³) holds for assayed pure metal. Both are
	// common practice, from memory.
	DefaultMercuryU = 0.14

	// mercuryExpansionU, in 1/K, lets the density at 0 and 40 °C be off by 1 ppm, which is how far the
	// IPTS-68 and ITS-90 forms of the expansion differ there.
	mercuryExpansionU = 5e-8
	// mercuryHotU is relative, reached at 100 °C and growing from none at 50 °C: handbook specific volumes depart
	// from the polynomial by 25 to 30 ppm at 90 °C; taken as a rectangle, 30/√3 ppm.
	mercuryHotU = 20e-6
)

const mercurySource = "Bettin and Fehlauer, Metrologia 41 (2004) S16, at 20 °C; expansion after Beattie et al. 1941, ITS-90 form"

var mercurySpan = celsiusSpan(-20, 100)

// NewMercury makes Mercury. A density further than 0.1 % from the reference value is refused: it is not mercury.
func NewMercury(o MercuryOptions) (Mercury, error) {
	if err := o.DensityU.ok("the density of mercury"); err != nil {
		return Mercury{}, err
	}
	rho := float64(o.Density)
	if rho == 0 {
		rho = MercuryDensity20
	}
	const tol = 0.001
	if low, high := MercuryDensity20*(1-tol), MercuryDensity20*(1+tol); !(rho >= low && rho <= high) {
		return Mercury{}, fmt.Errorf("density of mercury at 20 °C is %v kg/m³; allowed: %.1f to %.1f kg/m³", rho, low, high)
	}
	u, assumed := o.DensityU.or(DefaultMercuryU)
	return Mercury{rho20: rho, uRho20: u, assumed: assumed}, nil
}

// Name implements Fluid.
func (Mercury) Name() string { return "mercury" }

// Source implements Fluid.
func (Mercury) Source() string { return mercurySource }

// Range implements Fluid.
func (Mercury) Range() (low, high quantity.Temperature) { return mercurySpan.low, mercurySpan.high }

// Inputs implements Fluid.
func (m Mercury) Inputs() []Input {
	return []Input{
		{Name: "density at 20 °C", Value: m.rho20, Unit: "kg/m³", U: m.uRho20, Assumed: m.assumed},
		{Name: "deviation of the mean expansion from 20 °C", Unit: "1/K", U: mercuryExpansionU},
		{Name: "density formula above 50 °C", Unit: "1", U: mercuryHotU},
	}
}

// At implements Fluid.
func (m Mercury) At(t quantity.Temperature) (State, error) {
	if !mercurySpan.has(t) {
		return State{}, mercurySpan.refuse(m.Name(), mercurySource, t)
	}
	tc := t.Celsius()
	q, dq := mercuryVolume(tc)
	q20, _ := mercuryVolume(20)
	unit := q20 / q // density relative to that at 20 °C
	rho := m.rho20 * unit
	s := State{Density: quantity.Density(rho), PerKelvin: -rho * dq / q}
	s.Own[0] = unit * m.uRho20
	s.Own[1] = -rho * (tc - 20) * mercuryExpansionU
	s.Own[2] = rho * max(tc-50, 0) / 50 * mercuryHotU
	return s, nil
}

// mercuryVolume gives the volume relative to that at 0 °C, and its derivative in 1/K, at t in °C of ITS-90.
func mercuryVolume(t float64) (q, dq float64) {
	const a, b, c, d = 1.815868e-4, 5.4583e-9, 3.4980e-11, 1.5558e-14
	return 1 + t*(a+t*(b+t*(c+t*d))), a + t*(2*b+t*(3*c+t*4*d))
}
