package desk

import (
	"errors"
	"strings"
	"testing"

	"manobridge/convert"
)

// The moist air of the tests, 20 °C, 1013.25 hPa, 50 %, 400 ppm: 1.1993139 kg/m³. Source: CIPM-2007, as evaluated by code
// of the Measurement Standards Laboratory of New Zealand. Tolerances below allow for its last digit.
const airKgM3 = 1.1993139

// By hand, for 100 mm along the limb from the zero, slope 0.2, area ratio (4/40)² = 0.01, g = 9.80715 m/s²:
//
//	reservoir surface   −100 × 0.01 = −1 mm     limb surface 100 × 0.2 = 20 mm     taps 700 mm (twice the scale and 100)
//	air down    1.1993139 × 9.80715 × (−0.001 − 0.700) = −8.245058 Pa
//	oil up      830       × 9.80715 × ( 0.020 + 0.001) = 170.938625 Pa
//	air up      1.1993139 × 9.80715 × ( 0.700 − 0.020) = 7.998059 Pa
//	sum         170.691626 Pa
func TestExplainByHand(t *testing.T) {
	x, err := bench(t, "panel-test").Explain(Given{LowMM: ptr(110), TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	const source = "by hand"
	want := []Column{
		{"air", airKgM3, 700, -1, "−", -8.245058}, {"pale-oil", 830, -1, 20, "+", 170.938625}, {"air", airKgM3, 20, 700, "+", 7.998059},
	}
	if len(x.Now.Columns) != len(want) {
		t.Fatalf("got %d columns, want %d", len(x.Now.Columns), len(want))
	}
	for i, w := range want {
		got := x.Now.Columns[i]
		if got.Fluid != w.Fluid || got.Sign != w.Sign {
			t.Errorf("column %d: got %s %s, want %s %s", i+1, got.Sign, got.Fluid, w.Sign, w.Fluid)
		}
		near(t, "density", got.DensityKgM3, w.DensityKgM3, 2e-7*w.DensityKgM3+2e-6, source)
		near(t, "from", got.FromMM, w.FromMM, 1e-9, source)
		near(t, "to", got.ToMM, w.ToMM, 1e-9, source)
		near(t, "contribution", got.ContributionPa, w.ContributionPa, 2e-5, source)
	}
	near(t, "sum", x.Now.SumPa, 170.691626, 1e-6, source)
	near(t, "closed form", x.Now.ClosedPa, 170.691626, 1e-6, source)
	near(t, "difference of the two ways", x.Now.DifferencePa, 0, 1e-9, "the same by two ways")
	near(t, "at the zero", x.Zero.SumPa, 0, 1e-9, "level menisci under one gas")
	near(t, "result", *x.DifferentialPa, 170.691626, 1e-6, source)
	near(t, "head", *x.HeadMM, 21, 1e-9, source)
}

// Warmer by 3 K: oil of 830 / (1 + 0.00085 × 3) = 827.888883 kg/m³ makes 170.256841 Pa of the same reading.
func TestExplainTakesTheTemperatureGiven(t *testing.T) {
	x, err := bench(t, "panel-test").Explain(Given{LowMM: ptr(110), TemperatureC: ptr(23)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "result", *x.DifferentialPa, 170.256841, 1e-6, "by hand")
	near(t, "oil", x.Now.Columns[1].DensityKgM3, 827.888883, 1e-6, "by hand")
	if x.Conditions.LiquidFrom != "as given" {
		t.Errorf("got the temperature from %q, want it as given", x.Conditions.LiquidFrom)
	}
}

// Tap to tap through water, heavy fluid and air; 1750 kg/m³ at 20 °C, water 998.2067 kg/m³ (Tanaka et al., Metrologia 38
// (2001) 301), surfaces at 100 + 80 = 180 mm and 100 + 200 sin 30° = 200 mm:
//
//	9.80715 × [1750 × 0.020 − 998.2067 × (0.400 − 0.180) + 1.1993139 × (0.600 − 0.200)] = −1805.74883 Pa
func TestExplainThroughThreeFluids(t *testing.T) {
	x, err := bench(t, "wet-leg").Explain(Given{LowMM: ptr(200), TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "result", *x.DifferentialPa, -1805.74883, 2e-4, "by hand; 0.1 mg/L in the water's last digit")
	var fluids []string
	for _, c := range x.Now.Columns {
		fluids = append(fluids, c.Sign+" "+c.Fluid)
	}
	if got := strings.Join(fluids, ", "); got != "− water, + heavy-fluid, + air" {
		t.Errorf("got %s, want − water, + heavy-fluid, + air", got)
	}
	if x.Zero != nil {
		t.Error("got a walk at the zero, want none: the instrument has no zero")
	}
}

func TestExplainRefuses(t *testing.T) {
	for _, c := range []struct {
		name, instrument string
		given            Given
		want             string
	}{
		{"a position left out", "coarse-test", Given{LowMM: ptr(5)}, "--high-mm"},
		{"a position that is not read", "panel-test", Given{LowMM: ptr(5), HighMM: ptr(5)}, "--high-mm"},
		{"an engraved scale that is not there", "panel-test", Given{LowMM: ptr(5), Reading: ptr(5)}, "--reading"},
	} {
		_, err := bench(t, c.instrument).Explain(c.given)
		var refusal *convert.Refusal
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.As(err, &refusal) {
			t.Errorf("%s: got %v, want a mistake in the command that names %s", c.name, err, c.want)
		}
	}
	for _, c := range []struct {
		name  string
		given Given
		code  convert.Cause
	}{
		{"no temperature", Given{LowMM: ptr(110)}, convert.TemperatureMissing},
		{"off the scale", Given{LowMM: ptr(310), TemperatureC: ptr(20)}, convert.LimbOffScale},
		{"too hot", Given{LowMM: ptr(110), TemperatureC: ptr(90)}, convert.TemperatureRange},
	} {
		_, err := bench(t, "panel-test").Explain(c.given)
		var refusal *convert.Refusal
		if !errors.As(err, &refusal) || refusal.Code != c.code {
			t.Errorf("%s: got %v, want a refusal with %s", c.name, err, c.code)
		}
	}
}

func TestExplainText(t *testing.T) {
	x, err := bench(t, "panel-test").Explain(Given{LowMM: ptr(110), TemperatureC: ptr(23), PressureHPa: ptr(955)})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "explain-panel", x.String())
	unitsInKeys(t, x)
	if x, err = bench(t, "wet-leg").Explain(Given{LowMM: ptr(260), TemperatureC: ptr(24)}); err != nil {
		t.Fatal(err)
	}
	golden(t, "explain-wet-leg", x.String())
	unitsInKeys(t, x)
}
