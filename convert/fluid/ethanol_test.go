package fluid

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"manobridge/convert/quantity"
	"manobridge/convert/quantity/tabletest"
)

// The cells vary mass fraction and temperature together: pure water, pure ethanol and 20 °C alone would leave two thirds
// of the coefficients unused.
func TestEthanolWaterAgainstTable(t *testing.T) {
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/ethanol_water.csv") {
		p, tol := r.Number("ethanol_mass_fraction"), r.Number("comparison_tolerance_kg_m3")
		if tol < 1e-4 {
			tol += 1e-9
		}
		if note := r.Text("note"); strings.HasPrefix(note, "volume fraction ") {
			// A table by volume: the conversion is under test too. The mass fraction in the row is a rounded help.
			var q float64
			for i := range 101 {
				if abs := math.Abs(volumeFraction(p) - float64(i)/100); abs < 1e-3 {
					q = float64(i) / 100
				}
			}
			got, err := EthanolMassFraction(quantity.Ratio(q))
			if err != nil {
				t.Fatal(err)
			}
			r.Within("mass fraction", float64(got), p, 1e-6)
			p = float64(got)
		}
		e := must[EthanolWater](t)(NewEthanolWater(quantity.Ratio(p), Uncertainty{}))
		r.Within("density", float64(at(t, e, r.Number("temperature_c")).Density), r.Number("density_kg_m3"), tol)
		tally.Checked()
	}
	tally.Want(t, 50, 0)
	for _, r := range tabletest.Rows(t, "testdata/water_density.csv") {
		if r.Text("method") == "printed_table" { // the same table's column of pure water
			e := must[EthanolWater](t)(NewEthanolWater(0, Uncertainty{}))
			r.Within("density", float64(at(t, e, r.Number("temperature_c")).Density), r.Number("density_kg_m3"), 0.005)
		}
	}
}

// volumeFraction is the forward rule, q = p ρ(p, 20)/ρ(1, 20).
func volumeFraction(p float64) float64 {
	mixed, _, _ := ethanolDensity(p, 0)
	pure, _, _ := ethanolDensity(1, 0)
	return p * mixed / pure
}

func TestEthanolMassFractionInverts(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		q := rapid.Float64Range(0, 1).Draw(rt, "q")
		p, err := EthanolMassFraction(quantity.Ratio(q))
		if err != nil || math.Abs(volumeFraction(float64(p))-q) > 1e-12 {
			rt.Fatalf("%v by volume: got %v by mass, %v, which is %v by volume", q, p, err, volumeFraction(float64(p)))
		}
	})
	for _, bad := range []float64{-0.01, 1.01, 40, math.NaN()} {
		if _, err := EthanolMassFraction(quantity.Ratio(bad)); err == nil {
			t.Errorf("volume fraction %v was taken", bad)
		}
		if _, err := NewEthanolWater(quantity.Ratio(bad), Uncertainty{}); err == nil {
			t.Errorf("mass fraction %v was taken", bad)
		}
	}
}

func TestEthanolWaterOwn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.Float64Range(0.01, 0.99).Draw(rt, "p")
		mix := func(p float64) EthanolWater {
			return must[EthanolWater](t)(NewEthanolWater(quantity.Ratio(p), Stated(0.0005)))
		}
		ownIs(t, mix(p), mix(p-0.0005), mix(p+0.0005), rapid.Float64Range(-20, 40).Draw(rt, "t"), 0)
	})
}
