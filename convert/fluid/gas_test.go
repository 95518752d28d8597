package fluid

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
)

func TestGas(t *testing.T) {
	g := must[Gas](t)(NewGas(GasOptions{Name: "nitrogen", Density: 5.8, DensityU: Stated(0.02)}))
	if s := at(t, g, 20); s.Density != 5.8 || s.PerKelvin != 0 || s.Own[0] != 0.02 {
		t.Errorf("got %+v, want what was stated", s)
	}
	if s := at(t, Vapour("mercury"), 20); s != (State{}) {
		t.Errorf("vapour: got %+v, want nothing", s)
	}
	nan := math.NaN()
	for _, bad := range []GasOptions{
		{Density: -1}, {Density: quantity.Density(nan)}, {Density: 1000}, {Density: 1, DensityU: Stated(-1)},
		{Density: 1, Low: quantity.Celsius(30), High: quantity.Celsius(10)}, {Density: 1, Low: quantity.Celsius(10)},
		{Density: 1, High: quantity.Temperature(nan)},
	} {
		if g, err := NewGas(bad); err == nil {
			t.Errorf("got %+v for %+v, want a refusal", g, bad)
		}
	}
}
