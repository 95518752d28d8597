package desk

import (
	"math"
	"strings"
	"testing"

	"manobridge/configs"
)

// By hand for 120 Pa: L = 120 / (828.8006861 × 9.80715 × (0.2 + 0.01)) = 70.302219 mm up the limb, 0.703022 mm down in the
// reservoir; a plain U-tube moves 120 / (2 × 828.8006861 × 9.80715) = 7.381733 mm, so that the ratio is 2/0.21 = 9.5238.
func TestPredictByHand(t *testing.T) {
	p, err := bench(t, "panel-test").Predict(Aim{ByPa: ptr(120)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low limb along", p.Low.AlongMM, 70.302219, 1e-6, "by hand")
	near(t, "low limb in height", p.Low.VerticalMM, 14.060444, 1e-6, "by hand")
	near(t, "low limb reads", *p.Low.ToMM, 80.302219, 1e-6, "by hand")
	near(t, "reservoir", p.High.VerticalMM, -0.703022, 1e-6, "by hand")
	near(t, "plain U-tube", *p.PlainMM, 7.381733, 1e-6, "by hand")
	near(t, "ratio", *p.Low.Ratio, 2/0.21, 1e-8, "by hand")
	near(t, "read back", *p.ReadBackPa, 120, 1e-9, "the inverse of the inverse")
	if p.Low.Direction != "up" || p.High.Direction != "down" || !p.OnScale {
		t.Errorf("got low %s, high %s, on scale %t; want up, down, true", p.Low.Direction, p.High.Direction, p.OnScale)
	}
}

// A vertical U-tube of equal bores is the plain U-tube: both menisci move the same, opposite ways, ratio 1. For water of
// 998.2067 kg/m³, −1000 Pa is 51.136242 mm in each limb.
func TestPredictPlainUTube(t *testing.T) {
	p, err := bench(t, "coarse-test").Predict(Aim{ToPa: ptr(-1000)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "high limb", p.High.AlongMM, 51.136242, 1e-5, "by hand")
	near(t, "low limb", p.Low.AlongMM, -51.136242, 1e-5, "by hand")
	near(t, "high limb reads", *p.High.ToMM, 51.636242, 1e-5, "by hand, from 0.5 mm")
	near(t, "ratio", *p.Low.Ratio, 1, 1e-9, "the thing compared with itself")
	if p.High.Direction != "up" || p.Low.Direction != "down" {
		t.Errorf("got high %s, low %s; want up, down: the pressure fell", p.High.Direction, p.Low.Direction)
	}
}

// Without a zero the present state is the pair of the tie. 500 Pa more:
//
//	s = 500 / (9.80715 × [(1750 − 1.1993139) sin 30° + (1750 − 998.2067) (5/50)²]) = 57.809451 mm
func TestPredictFromTheTie(t *testing.T) {
	b := bench(t, "wet-leg")
	p, err := b.Predict(Aim{ByPa: ptr(500)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "from", p.FromPa, -1805.74883, 2e-4, "by hand, in the test of explain")
	near(t, "low limb along", p.Low.AlongMM, 57.809451, 1e-5, "by hand")
	near(t, "high limb", p.High.AlongMM, -0.57809451, 1e-7, "by hand: a hundredth of the area ratio")
	near(t, "ratio", *p.Low.Ratio, 3.9659019, 1e-6, "by hand")
	// From another state, the same change of straight limbs is the same movement.
	q, err := b.Predict(Aim{FromPa: ptr(-1500), ByPa: ptr(500)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low limb along from another state", q.Low.AlongMM, p.Low.AlongMM, 1e-9, "a straight limb of uniform bore")
	near(t, "to", q.ToPa, -1000, 1e-12, "−1500 + 500")
}

// A reservoir gauge with a tube of 6 mm and a reservoir of 18 mm, oil of relative density 0.827, moves 27.2 mm for 25 mm of
// water: 1.088 times as far. Source: R. W. Fox, A. T. McDonald, Introduction to Fluid Mechanics, problem 3.28. The book
// leaves out the air, 0.15 % here; its answers have three and four digits.
func TestPredictPublishedReservoirGauge(t *testing.T) {
	c := hall(t)
	in := c.Instruments[indexOf(t, c, "wide-bore")]
	in.Geometry.BoreMM, in.Geometry.ReservoirBoreMM = ptr(6), ptr(18)
	c.Instruments[indexOf(t, c, "wide-bore")] = in
	c.Location = configs.Location{GravityMS2: ptr(9.80665), GravityUMS2: ptr(0)}
	for i := range c.Liquids {
		if c.Liquids[i].Name == "pale-oil" {
			c.Liquids[i].DensityKgM3 = ptr(827)
		}
	}
	b, err := Open(c, "wide-bore")
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.Predict(Aim{ByPa: ptr(25 * 9.80665)}) // conventional water: 1000 kg/m³ under standard gravity
	if err != nil {
		t.Fatal(err)
	}
	const source = "Fox and McDonald, problem 3.28"
	near(t, "movement", p.Low.AlongMM, 27.2, 0.05+0.0015*27.2, source)
	near(t, "sensitivity", p.Low.AlongMM/25, 1.088, 0.0005+0.0015*1.088, source)
}

func indexOf(t *testing.T, c *configs.Config, name string) int {
	t.Helper()
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return i
		}
	}
	t.Fatalf("no instrument %s", name)
	return -1
}

func TestPredictOffTheScale(t *testing.T) {
	p, err := bench(t, "panel-test").Predict(Aim{ToPa: ptr(600)})
	if err != nil {
		t.Fatal(err)
	}
	if p.OnScale || p.Refusal == "" || p.ReadBackPa != nil {
		t.Errorf("got on scale %t, refusal %q, read back %v; want it off the scale: 600 Pa is 361 mm on 300 mm", p.OnScale, p.Refusal, p.ReadBackPa)
	}
	if !strings.Contains(p.String(), "does NOT stay") {
		t.Errorf("got %q, want it said", p.String())
	}
}

func TestPredictWantsOneAim(t *testing.T) {
	b := bench(t, "panel-test")
	for _, a := range []Aim{{}, {ToPa: ptr(1), ByPa: ptr(1)}, {ToPa: ptr(math.NaN())}} {
		if p, err := b.Predict(a); err == nil {
			t.Errorf("got %+v, want a refusal", p)
		}
	}
}

func TestPredictText(t *testing.T) {
	for name, c := range map[string]struct {
		instrument string
		aim        Aim
	}{
		"predict-panel":   {"panel-test", Aim{ByPa: ptr(120), TemperatureC: ptr(22)}},
		"predict-coarse":  {"coarse-test", Aim{FromPa: ptr(250), ToPa: ptr(-1000)}},
		"predict-wet-leg": {"wet-leg", Aim{ByPa: ptr(500)}},
		"predict-beyond":  {"panel-test", Aim{ToPa: ptr(600)}},
	} {
		p, err := bench(t, c.instrument).Predict(c.aim)
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name, p.String())
		unitsInKeys(t, p)
	}
}
