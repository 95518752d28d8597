package fluid

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"manobridge/convert/quantity"
)

// at gives a state or ends the test.
func at(t testing.TB, f Fluid, celsius float64) State {
	t.Helper()
	s, err := f.At(quantity.Celsius(celsius))
	if err != nil {
		t.Fatalf("%s at %v °C: %v", f.Name(), celsius, err)
	}
	return s
}

// must gives a fluid or ends the test.
func must[F Fluid](t testing.TB) func(F, error) F {
	return func(f F, err error) F {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
}

// allFluids is one of each kind.
func allFluids(t testing.TB) []Fluid {
	t.Helper()
	liquid := LiquidOptions{Name: "pale-oil", Density: 830, Reference: quantity.Celsius(20), Expansion: 8.5e-4}
	exponential, quadratic := liquid, liquid
	exponential.Form = Exponential
	quadratic.Form, quadratic.SecondOrder = Quadratic, 1.2e-6
	air := AirOptions{Pressure: 96200, Humidity: 0.4}
	return []Fluid{
		must[Water](t)(NewWater(Uncertainty{})),
		must[Mercury](t)(NewMercury(MercuryOptions{})),
		must[Liquid](t)(NewLiquid(liquid)),
		must[Liquid](t)(NewLiquid(exponential)),
		must[Liquid](t)(NewLiquid(quadratic)),
		must[Air](t)(NewAir(air)),
		must[EthanolWater](t)(NewEthanolWater(0.4, Uncertainty{})),
		must[Petroleum](t)(NewPetroleum("lubricating-oil", 850, Uncertainty{})),
		must[Petroleum](t)(NewPetroleum("gasoline-jet-transition", 780, Uncertainty{})),
		must[Gas](t)(NewGas(GasOptions{Name: "nitrogen", Density: 5.8})),
		Vapour("mercury"),
		must[*Table](t)(NewTable(TableOptions{Name: "table-oil", Points: points(
			[2]float64{0, 846.9}, [2]float64{10, 840.1}, [2]float64{20, 833.2}, [2]float64{40, 819.2})})),
	}
}

func TestEveryFluidKeepsTheContract(t *testing.T) {
	for _, f := range allFluids(t) {
		low, high := f.Range()
		if f.Name() == "" || f.Source() == "" || !(low < high) || len(f.Inputs()) > MaxOwn {
			t.Errorf("%s: name %q, source %q, range %v to %v, %d inputs", f.Name(), f.Name(), f.Source(), low, high, len(f.Inputs()))
		}
		for i, in := range f.Inputs() {
			if in.Name == "" || in.Unit == "" || !(in.U >= 0) {
				t.Errorf("%s: input %d is %+v", f.Name(), i, in)
			}
		}
		for _, end := range []quantity.Temperature{low, high} {
			if _, err := f.At(end); err != nil {
				t.Errorf("%s refuses the end of its own range: %v", f.Name(), err)
			}
		}
		for _, beyond := range []quantity.Temperature{low - 0.001, high + 0.001, quantity.Temperature(math.NaN()),
			quantity.Temperature(math.Inf(1)), quantity.Temperature(math.Inf(-1))} {
			s, err := f.At(beyond)
			var re *RangeError
			if !errors.As(err, &re) || s != (State{}) {
				t.Errorf("%s at %v K: got %+v, %v, want nothing and a *RangeError", f.Name(), beyond, s, err)
			}
		}
	}
}

// The derivative by temperature is checked against a central difference of the density itself.
func TestPerKelvinIsTheDerivative(t *testing.T) {
	for _, f := range allFluids(t) {
		rapid.Check(t, func(rt *rapid.T) {
			low, high := f.Range()
			const step = 0.01
			x := rapid.Float64Range(low.Celsius()+step, high.Celsius()-step).Draw(rt, "t")
			got := at(t, f, x).PerKelvin
			want := float64(at(t, f, x+step).Density-at(t, f, x-step).Density) / (2 * step)
			if tol := 1e-5*math.Abs(want) + 3e-5; math.Abs(got-want) > tol {
				rt.Fatalf("%s at %v °C: got %v kg/(m³·K), want %v ± %.1g (central difference)", f.Name(), x, got, want, tol)
			}
		})
	}
}

func TestAtAllocatesNothing(t *testing.T) {
	for _, f := range allFluids(t) {
		low, high := f.Range()
		middle := (low + high) / 2
		if n := testing.AllocsPerRun(100, func() { _, _ = f.At(middle) }); n != 0 {
			t.Errorf("%s: got %v allocations, want 0", f.Name(), n)
		}
	}
}

// ownIs checks that the contribution of input i is half the change of density between two fluids that differ in that
// input alone, by one standard uncertainty to either side.
func ownIs(t testing.TB, f, lower, upper Fluid, celsius float64, i int) {
	t.Helper()
	got := at(t, f, celsius).Own[i]
	want := float64(at(t, upper, celsius).Density-at(t, lower, celsius).Density) / 2
	if tol := 1e-3*math.Abs(want) + 1e-9; math.Abs(got-want) > tol {
		t.Errorf("%s at %v °C, input %q: got %v kg/m³, want %v ± %.1g (central difference)",
			f.Name(), celsius, f.Inputs()[i].Name, got, want, tol)
	}
}

func BenchmarkAt(b *testing.B) {
	for _, f := range allFluids(b) {
		low, high := f.Range()
		middle := (low + high) / 2
		b.Run(f.Name(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := f.At(middle); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
