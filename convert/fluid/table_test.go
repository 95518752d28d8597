package fluid

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"manobridge/convert/quantity"
)

// points makes a table from t in °C and ρ in kg/m³.
func points(pairs ...[2]float64) []Point {
	ps := make([]Point, len(pairs))
	for i, p := range pairs {
		ps[i] = Point{quantity.Celsius(p[0]), quantity.Density(p[1])}
	}
	return ps
}

// A table of water every 5 K must give back the water in between.
func TestTableFollowsWater(t *testing.T) {
	table := must[*Table](t)(NewTable(TableOptions{Name: "w", Points: points( // IAPWS-95, see testdata/water_density.csv
		[2]float64{10, 999.70247}, [2]float64{15, 999.10262}, [2]float64{20, 998.20715}, [2]float64{25, 997.04764},
		[2]float64{30, 995.64945}, [2]float64{35, 994.03331}, [2]float64{40, 992.21635})}))
	w := must[Water](t)(NewWater(Uncertainty{}))
	for tc := 10.0; tc <= 40; tc += 0.5 {
		got, want := at(t, table, tc), float64(at(t, w, tc).Density)
		// The stated uncertainty of the interpolation must cover what it does, with the formulas' own 1.5 ppm.
		if tol := 2*math.Abs(got.Own[1]) + 0.0015; math.Abs(float64(got.Density)-want) > tol {
			t.Errorf("%v °C: got %v kg/m³, want %v ± %.2g (Tanaka)", tc, got.Density, want, tol)
		}
	}
}

func TestTableHitsItsPointsAndStaysBetweenThem(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(rt, "n")
		ps := make([]Point, n)
		tc, rho := rapid.Float64Range(-20, 20).Draw(rt, "t0"), 1500.0
		for i := range ps {
			ps[i] = Point{quantity.Celsius(tc), quantity.Density(rho)}
			tc += rapid.Float64Range(0.5, 30).Draw(rt, "dt")
			rho -= rapid.Float64Range(0, 50).Draw(rt, "drho")
		}
		table := must[*Table](t)(NewTable(TableOptions{Name: "x", Points: ps, DensityU: Stated(0.3)}))
		for i, p := range ps {
			s := at(t, table, p.Temperature.Celsius())
			if math.Abs(float64(s.Density-p.Density)) > 1e-6 || math.Abs(s.Own[1]) > 1e-6 || s.Own[0] != 0.3 {
				rt.Fatalf("point %d: got %+v, want %v without interpolation", i, s, p.Density)
			}
			if i == 0 {
				continue
			}
			share := rapid.Float64Range(0, 1).Draw(rt, "share")
			before := ps[i-1]
			between := before.Temperature + quantity.Temperature(share)*(p.Temperature-before.Temperature)
			got, err := table.At(between)
			if err != nil || got.Density > before.Density+1e-9 || got.Density < p.Density-1e-9 {
				rt.Fatalf("between points %d and %d: got %v, %v, want %v to %v", i-1, i, got.Density, err, before.Density, p.Density)
			}
		}
	})
}

func TestTableRefuses(t *testing.T) {
	nan := math.NaN()
	for name, ps := range map[string][]Point{
		"nothing":             nil,
		"one point":           points([2]float64{20, 830}),
		"falling":             points([2]float64{30, 820}, [2]float64{20, 830}),
		"twice the same":      points([2]float64{20, 830}, [2]float64{20, 830}),
		"too close to divide": points([2]float64{20, 830}, [2]float64{20 + 1e-12, 829}),
		"density in g/cm³":    points([2]float64{20, 0.83}, [2]float64{30, 0.82}),
		"not a number":        points([2]float64{20, nan}, [2]float64{30, 820}),
		"t not a number":      points([2]float64{nan, 830}, [2]float64{30, 820}),
		"swapped":             points([2]float64{830, 20}, [2]float64{820, 30}),
	} {
		if table, err := NewTable(TableOptions{Name: "x", Points: ps}); err == nil {
			t.Errorf("%s: got %+v, want a refusal", name, table)
		}
	}
}

func FuzzTable(f *testing.F) {
	f.Add(10.0, 999.7, 20.0, 998.2, 30.0, 995.6, 15.0)
	f.Add(10.0, 830.0, 20.0, 830.0, 30.0, 830.0, 10.0)
	f.Add(0.0, 1e308, 1e-300, -1.0, math.Inf(1), 830.0, 5.0)
	f.Fuzz(func(t *testing.T, t1, r1, t2, r2, t3, r3, x float64) {
		table, err := NewTable(TableOptions{Name: "x", Points: points([2]float64{t1, r1}, [2]float64{t2, r2}, [2]float64{t3, r3})})
		if err != nil {
			return
		}
		s, err := table.At(quantity.Celsius(x))
		if err != nil {
			if low, high := table.Range(); quantity.Celsius(x) >= low && quantity.Celsius(x) <= high {
				t.Errorf("%v °C is in the range and was refused: %v", x, err)
			}
			return
		}
		low, high := min(r1, r2, r3), max(r1, r2, r3)
		if rho := float64(s.Density); !(rho >= low-1e-6 && rho <= high+1e-6) || !finite(s.PerKelvin) || !finite(s.Own[1]) {
			t.Errorf("got %+v, want a density from %v to %v", s, low, high)
		}
	})
}
