package assemble

import (
	"fmt"
	"math"
	"testing"

	"manobridge/configs"
	"manobridge/convert"
)

// built assembles the one instrument of a block in the hall.
func built(t *testing.T, block string) *convert.Converter {
	t.Helper()
	c, err := configs.Parse("hall", []byte(fmt.Sprintf(hall, "  it:\n"+block)), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	conv, err := Converter(c, &c.Instruments[0])
	if err != nil {
		t.Fatal(err)
	}
	return conv
}

// input finds an uncertain input by its name.
func input(t *testing.T, conv *convert.Converter, name string) convert.Input {
	t.Helper()
	for _, in := range conv.Inputs() {
		if in.Name == name {
			return in
		}
	}
	t.Fatalf("got no input %q in %v", name, conv.Inputs())
	return convert.Input{}
}

// Degrees of freedom belong to the uncertainty they are stated beside: in the block of one limb, or of both. Where an
// uncertainty stands in for another, they come along (JCGM 100:2008, G.4: ν belongs to the estimate of u).
func TestDegreesOfFreedomGoWithTheirUncertainty(t *testing.T) {
	pair := built(t, `    offline: true
    liquid: brine
    geometry:
      kind: limb-pair
      high: {slope_ratio: 0.9, bore_mm: 8.0, tap_height_mm: 520, scale_mm: [0, 500]}
      low: {slope_deg: 30, bore_mm: 5.0, scale_zero_height_mm: 10, tap_height_mm: 520, scale_mm: [0, 700]}
    legs: {high: {fluid: pale-oil, temperature_c: 40}, low: {fluid: pale-oil, temperature_c: 30}}
    tie: {high_mm: 230.0, low_mm: 330.0, temperature_c: 20.0}
    uncertainty:
      position_mm: 0.2
      bore_mm: 0.03
      temperature_c: 0.3
      leg_temperature_c: 0.7
      scale_zero_height_mm: 0.6
      dof: {position_mm: 19, bore_mm: 7, temperature_c: 5, leg_temperature_c: 11, scale_zero_height_mm: 23}
      high: {slope_ratio: 0.001, tap_height_mm: 0.4, bore_mm: 0.04, dof: {slope_ratio: 6, tap_height_mm: 8, bore_mm: 9}}
      low: {slope_deg: 0.02, scale_zero_height_mm: 0.5, tie_mm: 0.3, leg_temperature_c: 0.5, dof: {slope_deg: 4, scale_zero_height_mm: 3, tie_mm: 12}}
`)
	utube := built(t, `    offline: true
    liquid: brine
    geometry: {kind: u-tube, bore_mm: 6.0, scale_mm: [0, 600]}
    zero: {low_mm: 301, temperature_c: 19}
    uncertainty: {bore_mm: 0.05, position_mm: 0.2, temperature_c: 0.4, dof: {bore_mm: 3, position_mm: 9, temperature_c: 13}, low: {zero_mm: 0.1}}
`)
	for _, c := range []struct {
		conv   *convert.Converter
		name   string
		u, dof float64
	}{
		{pair, "low-limb position", 0.2, 19},
		{pair, "high-limb slope", 0.001, 6},
		{pair, "low-limb slope", 0.02, 4},
		{pair, "high-limb tap height", 0.4, 8},
		{pair, "high-limb bore", 0.04, 9},
		{pair, "low-limb bore", 0.03, 7},
		{pair, "high-limb scale zero height", 0.6, 23},
		{pair, "low-limb scale zero height", 0.5, 3},
		{pair, "high-limb position at the tie", 0.2, 19}, // as the position
		{pair, "low-limb position at the tie", 0.3, 12},
		{pair, "liquid temperature at the tie", 0.3, 5}, // as the temperature
		{utube, "low-limb bore", 0.05, 3},
		{utube, "low-limb position at the zero", 0.1, math.Inf(1)}, // its own, with none stated
		{utube, "liquid temperature at the zero", 0.4, 13},
	} {
		if got := input(t, c.conv, c.name); got.U != c.u || got.DOF != c.dof || got.Assumed && c.name != "high-limb position at the tie" {
			t.Errorf("%s: got u = %v with %v degrees of freedom (assumed: %v), want %v with %v as stated", c.name, got.U, got.DOF, got.Assumed, c.u, c.dof)
		}
	}
	legs := map[float64]float64{0.7: 11, 0.5: math.Inf(1)}
	for _, in := range pair.Inputs() {
		if in.Name == "pale-oil leg temperature" {
			if want, ok := legs[in.U]; !ok || in.DOF != want {
				t.Errorf("leg temperature: got u = %v with %v degrees of freedom, want one of %v", in.U, in.DOF, legs)
			}
			delete(legs, in.U)
		}
	}
	if len(legs) != 0 {
		t.Errorf("got no input for the leg temperatures %v", legs)
	}
}

// A slope of 1 is upright: sin θ = 1 − δ²/2, so u(sin θ) = 0 means that the limb is upright for certain.
func TestUprightBySlopeRatioKeepsItsUncertainty(t *testing.T) {
	conv := built(t, `    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_ratio: 1, area_ratio: 0.01, scale_mm: [0, 500]}
    zero: {low_mm: 12, temperature_c: 19}
    uncertainty: {slope_ratio: 0}
`)
	if got := input(t, conv, "slope"); got.U != 0 || got.Assumed {
		t.Errorf("got u = %v %s (assumed: %v), want 0 as stated", got.U, got.Unit, got.Assumed)
	}
}
