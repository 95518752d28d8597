package fluid

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"manobridge/convert/quantity"
)

// The three laws of expansion, worked by hand at 1e-3 1/K and 20 K above the reference.
func TestLiquidForms(t *testing.T) {
	for _, tc := range []struct {
		form   Form
		second float64
		want   float64
	}{
		{Linear, 0, 980.392157},       // 1000/1.02
		{Exponential, 0, 980.198673},  // 1000·e^-0.02, 197 ppm less
		{Quadratic, 2e-6, 979.623824}, // 1000/1.0208
	} {
		l := must[Liquid](t)(NewLiquid(LiquidOptions{Name: "x", Density: 1000, Reference: quantity.Celsius(20),
			Expansion: 1e-3, Form: tc.form, SecondOrder: tc.second}))
		if got := float64(at(t, l, 40).Density); math.Abs(got-tc.want) > 1e-6 {
			t.Errorf("%s: got %v kg/m³, want %v (by hand)", tc.form, got, tc.want)
		}
	}
}

func TestLiquidOwn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		o := LiquidOptions{
			Name:       "x",
			Density:    quantity.Density(rapid.Float64Range(700, 3000).Draw(rt, "rho")),
			Reference:  quantity.Celsius(rapid.Float64Range(0, 30).Draw(rt, "reference")),
			Expansion:  quantity.ExpansionCoefficient(rapid.Float64Range(1e-4, 2e-3).Draw(rt, "beta")),
			DensityU:   Stated(0.4),
			ExpansionU: Stated(1e-5),
			Form:       rapid.SampledFrom([]Form{Linear, Exponential, Quadratic}).Draw(rt, "form"),
		}
		if o.Form == Quadratic {
			o.SecondOrder = rapid.Float64Range(-3e-6, 3e-6).Draw(rt, "gamma")
			o.SecondOrderU = Stated(1e-7)
		}
		tc := o.Reference.Celsius() + rapid.Float64Range(-39, 39).Draw(rt, "dt")
		l := must[Liquid](t)(NewLiquid(o))
		shifted := func(i int, by float64) Liquid {
			s := o
			switch i {
			case 0:
				s.Density += quantity.Density(by)
			case 1:
				s.Expansion += quantity.ExpansionCoefficient(by)
			case 2:
				s.SecondOrder += by
			}
			return must[Liquid](t)(NewLiquid(s))
		}
		for i, in := range l.Inputs() {
			if in.Assumed {
				rt.Fatalf("%+v is assumed though it was stated", in)
			}
			ownIs(t, l, shifted(i, -in.U), shifted(i, in.U), tc, i)
		}
	})
}

func TestLiquidDefaults(t *testing.T) {
	l := must[Liquid](t)(NewLiquid(LiquidOptions{Name: "pale-oil", Density: 830, Reference: quantity.Celsius(20), Expansion: 8.5e-4}))
	if low, high := l.Range(); low != quantity.Celsius(20)-40 || high != quantity.Celsius(20)+40 || !l.RangeAssumed() {
		t.Errorf("got %v to %v K, want the reference ± 40 K, assumed", low, high)
	}
	in := l.Inputs()
	if len(in) != 2 || math.Abs(in[0].U-0.83) > 1e-12 || math.Abs(in[1].U-8.5e-5) > 1e-18 || !in[0].Assumed || !in[1].Assumed {
		t.Errorf("got %+v, want 0.1 %% and 10 %%, assumed", in)
	}
	o := LiquidOptions{Name: "x", Density: 830, Reference: quantity.Celsius(20), Expansion: 8.5e-4,
		DensityU: Stated(0), Low: quantity.Celsius(10), High: quantity.Celsius(30)}
	l = must[Liquid](t)(NewLiquid(o))
	if in := l.Inputs()[0]; in.U != 0 || in.Assumed || l.RangeAssumed() {
		t.Errorf("got %+v, want an exact density: 0 was written", in)
	}
}

func TestLiquidRefuses(t *testing.T) {
	nan := math.NaN()
	good := LiquidOptions{Name: "x", Density: 830, Reference: quantity.Celsius(20), Expansion: 8.5e-4}
	for name, spoil := range map[string]func(*LiquidOptions){
		"density in g/cm³":         func(o *LiquidOptions) { o.Density = 0.83 },
		"density not a number":     func(o *LiquidOptions) { o.Density = quantity.Density(nan) },
		"no reference":             func(o *LiquidOptions) { o.Reference = 0 },
		"expansion in percent":     func(o *LiquidOptions) { o.Expansion = 0.085 },
		"expansion not a number":   func(o *LiquidOptions) { o.Expansion = quantity.ExpansionCoefficient(nan) },
		"form unknown":             func(o *LiquidOptions) { o.Form = "cubic" },
		"second order where none":  func(o *LiquidOptions) { o.SecondOrder = 1e-6 },
		"negative uncertainty":     func(o *LiquidOptions) { o.DensityU = Stated(-1) },
		"uncertainty not a number": func(o *LiquidOptions) { o.ExpansionU = Stated(nan) },
		"range upside down":        func(o *LiquidOptions) { o.Low, o.High = quantity.Celsius(30), quantity.Celsius(10) },
		"range half open":          func(o *LiquidOptions) { o.High = quantity.Celsius(30) },
		"volume through a pole": func(o *LiquidOptions) {
			o.Form, o.SecondOrder, o.Low, o.High = Quadratic, -1e-4, quantity.Celsius(0), quantity.Celsius(150)
		},
	} {
		o := good
		spoil(&o)
		if l, err := NewLiquid(o); err == nil {
			t.Errorf("%s: got %+v, want a refusal", name, l)
		}
	}
}
