package desk

import (
	"math"
	"strings"
	"testing"
)

// Two liquids of relative density 1.00 and 1.10 in chambers 100 times the tube's area: 10 mm between the interfaces are
// 10.8 Pa, and 9 % less where the chambers are forgotten. Source: textbook of fluid mechanics of Japanese origin, example
// 3.6, three digits, g = 9.81.
func TestExplainTwoLiquids(t *testing.T) {
	x, err := bench(t, "draught").Explain(Given{HighMM: ptr(95), LowMM: ptr(105), TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "10 mm", *x.DifferentialPa, 10.8, 0.05, "textbook, example 3.6")
	if len(x.Now.Columns) != 5 {
		t.Errorf("got %d columns, want five: air, base, dense, base, air", len(x.Now.Columns))
	}
	// Backwards: the interface moves 5 mm in each limb, and 10.79 Pa / (2 × 1098.80 × 9.807) = 0.5007 mm in a plain U-tube.
	p, err := bench(t, "draught").Predict(Aim{ByPa: x.DifferentialPa})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low limb", p.Low.AlongMM, 5, 1e-6, "back again")
	near(t, "ratio", *p.Low.Ratio, 9.986, 0.01, "by hand")
}

// An inverted U-tube with air over water moves as much as a U-tube of water under air, up in the high limb:
// 500 / (2 × (998.2067 − 1.1993) × 9.80715) = 25.568121 mm.
func TestPredictInverted(t *testing.T) {
	p, err := bench(t, "upside-down").Predict(Aim{ByPa: ptr(500)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "high limb", p.High.AlongMM, 25.568121, 1e-5, "by hand")
	near(t, "low limb", p.Low.AlongMM, -25.568121, 1e-5, "by hand")
	near(t, "ratio", *p.High.Ratio, 1, 1e-9, "the same two fluids")
	if p.High.Direction != "up" || p.Low.Direction != "down" {
		t.Errorf("got high %s, low %s; want up, down", p.High.Direction, p.Low.Direction)
	}
}

// A scale engraved for oil of 830 kg/m³ under gas of 1.2 kg/m³ and standard gravity, read at 20 mmH2O with the same oil here:
// 20 × 9.80665 × (828.8006861 × 9.80715) / (828.8 × 9.80665) = 196.143162 Pa.
func TestEngravedScale(t *testing.T) {
	b := bench(t, "engraved")
	x, err := b.Explain(Given{Reading: ptr(20), TemperatureC: ptr(20)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "20 mmH2O", *x.DifferentialPa, 196.143162, 2e-5, "by hand; air in its last digit")
	p, err := b.Predict(Aim{ToPa: ptr(196.143162)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "reading", *p.IndicatedTo, 20, 1e-5, "back again")
	if p.Unit != "mmH2O" || p.Low.ToMM != nil {
		t.Errorf("got unit %q and a mark of %v mm, want mmH2O and no mark in mm", p.Unit, p.Low.ToMM)
	}
	budget, err := b.Budget(At{Read: &Given{Reading: ptr(20), TemperatureC: ptr(20)}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "budget at the reading", budget.PressurePa, 196.143162, 2e-5, "by hand")
	near(t, "reading of the budget", *budget.Reading, 20, 1e-9, "as read")
	for want, g := range map[string]Given{"--reading": {}, "leave --low-mm out": {LowMM: ptr(20), Reading: ptr(20)}} {
		if _, err := b.Explain(g); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want a refusal that says %s", err, want)
		}
	}
}

// Monte Carlo knows most inputs of every kind, names the rest, and its centre is the budget's.
func TestMonteCarloOfEveryKind(t *testing.T) {
	for name, straight := range map[string][]string{
		"engraved": {"density the scale was made for", "gas density the scale was made for"},
		"weather":  {"setting of the cistern", "low-limb capillarity", "high-limb capillarity", "neutral reading", "pressure over the closed surface"},
	} {
		bn := bench(t, name)
		at := At{}
		if name == "weather" {
			at.Pa = ptr(101325)
		}
		b, err := bn.Budget(at)
		if err != nil {
			t.Fatal(err)
		}
		if err := bn.MonteCarlo(&b, at, 5000); err != nil {
			t.Fatal(err)
		}
		near(t, name+": mean", b.MonteCarlo.MeanPa, b.PressurePa, 5*b.CombinedUPa/math.Sqrt(5000), "a nearly straight model")
		for _, got := range b.MonteCarlo.Straight {
			if !strings.Contains(strings.Join(straight, ","), got) {
				t.Errorf("%s: got %q entering straight, want at most %q", name, got, straight)
			}
		}
	}
}

func TestKindsText(t *testing.T) {
	b := bench(t, "engraved")
	p, err := b.Predict(Aim{ByPa: ptr(150)})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "predict-engraved", p.String())
}
