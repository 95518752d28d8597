package convert

import (
	"math"
	"math/rand/v2"
	"testing"

	"manobridge/convert/quantity"
)

// Pressure to positions and back, for every kind, over the whole scale.
func TestPredictThenConvert(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 0))
	for _, kind := range []string{"u-tube", "inclined-reservoir", "limb-pair"} {
		r := newRig(kind)
		r.zeroHigh, r.zeroLow = 0.3, 0.28
		if kind == "inclined-reservoir" {
			r.charge = 6e-5
		}
		o := r.options(t)
		o.HighScale, o.LowScale = Span{-2, 2}, Span{-2, 2}
		o.Shape.High.Tap, o.Shape.Low.Tap = 5, 5
		c := converter(t, o)
		base := 0.0 // a limb pair without a zero has an offset: go around its tie
		if kind == "limb-pair" {
			at := c.Convert(reading(0, r.tieLow*1000, r.tieT))
			base, _ = at.Pressure()
		}
		for range 1000 {
			want, temp := base-500+1000*rng.Float64(), quantity.Celsius(10+30*rng.Float64())
			p, err := c.Predict(want, temp)
			if err != nil {
				t.Fatal(err)
			}
			rd := Reading{High: p.High, Low: p.Low, Temperature: Some(temp)}
			res := c.Convert(rd)
			got, ok := res.Pressure()
			// Relative to the largest column: 5 m of the over-liquid.
			if tol := 1e-10 * 5 * 700 * 9.81; !ok || math.Abs(got-want) > tol {
				t.Fatalf("%s: got %v Pa (%v), want %v ± %v Pa", kind, got, res.Refusal, want, tol)
			}
			if math.Abs(res.ExpandedU-p.ExpandedU) > 1e-9*p.ExpandedU {
				t.Fatalf("%s: got U = %v Pa, want %v Pa as converted", kind, p.ExpandedU, res.ExpandedU)
			}
		}
	}
}

// A reservoir instrument moves ΔL = Δp / ((ρ − ρ_air) g (sin θ + a/A)).
// Source: R. W. Fox and A. T. McDonald, Introduction to Fluid Mechanics, chapter 3, inclined-tube manometer; with the
// buoyancy of the air.
func TestSensitivityOfReservoir(t *testing.T) {
	r := newRig("inclined-reservoir")
	r.alpha = 0
	p, err := converter(t, r.options(t)).Predict(100, quantity.Celsius(20))
	if err != nil {
		t.Fatal(err)
	}
	const airDensity = 1.1348 // kg/m³ at 22 °C, 965 hPa, 40 %: ideal gas, p/(287.05 T) less 0.38 % of the vapour pressure share
	want := 1 / ((830 - airDensity) * 9.807 * (math.Sin(0.2) + 0.004*0.004/(0.05*0.05)))
	if math.Abs(p.MovePerPa/want-1) > 1e-5 {
		t.Errorf("got %v m/Pa, want %v ± 1e-5 of it", p.MovePerPa, want)
	}
}
