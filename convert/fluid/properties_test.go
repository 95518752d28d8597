package fluid

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
)

func TestWaterSurfaceTension(t *testing.T) {
	for _, tc := range []struct{ t, want float64 }{
		// Source: table of IAPWS R1-76(2014), mN/m, two decimals (from memory; the value at 20 °C is in a table of
		// another origin as well, see TestOtherMenisciAgainstTable).
		{0.01, 75.65}, {20, 72.74}, {25, 71.97}, {50, 67.94}, {100, 58.91},
	} {
		sigma, u, err := WaterSurfaceTension(quantity.Celsius(tc.t))
		if err != nil {
			t.Fatal(err)
		}
		if got := float64(sigma) * 1000; math.Abs(got-tc.want) > 0.005+1e-9 || !(u > 0) {
			t.Errorf("%v °C: got %v mN/m, u %v, want %v ± 0.005 (IAPWS R1-76(2014))", tc.t, got, u, tc.want)
		}
	}
	for _, bad := range []float64{-1, 101, math.NaN()} {
		if _, _, err := WaterSurfaceTension(quantity.Celsius(bad)); err == nil {
			t.Errorf("%v °C was taken", bad)
		}
	}
}

func TestMercuryVapourPressure(t *testing.T) {
	for _, tc := range []struct {
		t, want, tol float64
		source       string
	}{
		{356.619, 101325, 200, "normal boiling point 629.77 K, NIST Chemistry WebBook (from memory)"},
		{0, 0.027, 0.0005, "handbook value of two digits"},
		{20, 0.17, 0.005, "handbook value of two digits"},
		{30, 0.39, 0.02, "handbook value of two digits"},
	} {
		p, u, err := MercuryVapourPressure(quantity.Celsius(tc.t))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(p)-tc.want) > tc.tol || !(u > 0) {
			t.Errorf("%v °C: got %v Pa, u %v, want %v ± %v (%s)", tc.t, p, u, tc.want, tc.tol, tc.source)
		}
	}
	for _, bad := range []float64{-40, 401, math.NaN()} {
		if _, _, err := MercuryVapourPressure(quantity.Celsius(bad)); err == nil {
			t.Errorf("%v °C was taken", bad)
		}
	}
}

// The slope of the vapour pressure curve is the heat of vaporization (Clausius and Clapeyron, the vapour being thin):
// R T² d(ln p)/dT. Source: CODATA Key Values for Thermodynamics (1989), Hg(g) at 298.15 K, 61.38 ± 0.04 kJ/mol (from
// memory).
func TestMercuryVapourPressureGivesTheHeatOfVaporization(t *testing.T) {
	const kelvin, step, r, want, tol = 298.15, 0.05, 8.314462618, 61380, 120 // J/mol
	upper, _, err := MercuryVapourPressure(kelvin + step)
	if err != nil {
		t.Fatal(err)
	}
	lower, _, err := MercuryVapourPressure(kelvin - step)
	if err != nil {
		t.Fatal(err)
	}
	if got := r * kelvin * kelvin * math.Log(float64(upper/lower)) / (2 * step); math.Abs(got-want) > tol {
		t.Errorf("got %v J/mol, want %v ± %v (CODATA 1989)", got, want, tol)
	}
}

func TestStateHelpers(t *testing.T) {
	s := State{Density: 1000, PerKelvin: -0.2, Own: [MaxOwn]float64{3, -4, 0, 0}}
	if got := s.DensityU(); got != 5 {
		t.Errorf("got %v kg/m³, want 5", got)
	}
	if got := float64(s.Expansion()); math.Abs(got-2e-4) > 1e-18 {
		t.Errorf("got %v 1/K, want 2e-4", got)
	}
	if got := s.SpecificWeight(9.80665); got != 9806.65 {
		t.Errorf("got %v N/m³, want 9806.65", got)
	}
	if got := (State{}).Expansion(); got != 0 {
		t.Errorf("got %v 1/K for nothing, want 0", got)
	}
	// Source: thermal expansion of water at 20 °C, 0.000207 1/K, handbook tables.
	if got := float64(at(t, must[Water](t)(NewWater(Uncertainty{})), 20).Expansion()); math.Abs(got-2.07e-4) > 5e-7 {
		t.Errorf("water: got %v 1/K, want 2.07e-4 ± 5e-7 (handbook)", got)
	}
}
