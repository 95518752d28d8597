package convert

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
)

// What a reading brings with a position adds to the variance as any input does, its sensitivity taken here by finite
// differences, and its degrees of freedom carry into ν_eff. Source: JCGM 100:2008, 5.1.2 and G.4.1.
func TestExtraOfAReadingCounts(t *testing.T) {
	for _, kind := range []string{"u-tube", "inclined-reservoir", "limb-pair"} {
		t.Run(kind, func(t *testing.T) {
			o := newRig(kind).options(t)
			r := reading(212, 318, 23.1)
			plain := converter(t, o)
			before := plain.Convert(r)
			o.U.Low.Extra = &ExtraInput{Name: "from its signal", Typical: Extra{U: quantity.Millimetres(0.05), DOF: 9}}
			c := converter(t, o)
			if got := c.Convert(r); got.CombinedU != before.CombinedU || !math.IsInf(got.EffectiveDOF, 1) {
				t.Errorf("without an extra: got u %v Pa, ν %v, want %v Pa, infinite", got.CombinedU, got.EffectiveDOF, before.CombinedU)
			}
			const u, dof = 0.2e-3, 7.0
			r.LowExtra = Extra{U: u, DOF: dof}
			up, down := r, r
			up.Low, down.Low = Some(r.Low.V+1e-6), Some(r.Low.V-1e-6)
			slope := float64(plain.Convert(up).Differential-plain.Convert(down).Differential) / 2e-6
			d := slope * u
			variance := before.CombinedU*before.CombinedU + d*d
			got := c.Convert(r)
			if want := math.Sqrt(variance); math.Abs(got.CombinedU-want) > 1e-6*want {
				t.Errorf("got u %v Pa, want %v ± 1e-6 of it", got.CombinedU, want)
			}
			if want := variance * variance / (d * d * d * d / dof); math.Abs(got.EffectiveDOF-want) > 1e-5*want {
				t.Errorf("got ν_eff %v, want %v ± 1e-5 of it", got.EffectiveDOF, want)
			}
			if math.Abs(got.ExpandedU-got.CoverageFactor*got.CombinedU) > 1e-12 || got.CoverageFactor <= 2 {
				t.Errorf("got k %v and U %v Pa, want a k over 2", got.CoverageFactor, got.ExpandedU)
			}
		})
	}
}

// A budget is of no reading and takes the typical extra; the name says what it comes from.
func TestBudgetTakesTheTypicalExtra(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	x := Extra{U: quantity.Millimetres(0.2), DOF: 9}
	o.U.Low.Extra = &ExtraInput{Name: "from its signal", Typical: x}
	c := converter(t, o)
	p, err := c.Predict(300, quantity.Celsius(21))
	if err != nil {
		t.Fatal(err)
	}
	r := reading(0, 0, 21)
	r.Low = p.Low
	got := c.Convert(c.WithTypical(r))
	if math.Abs(got.ExpandedU-p.ExpandedU) > 1e-9*p.ExpandedU {
		t.Errorf("got U %v Pa predicted, %v Pa converted; want the same", p.ExpandedU, got.ExpandedU)
	}
	named := false
	for i, in := range c.Inputs() {
		if in.Name == "low-limb position from its signal" {
			named = in.U == 0.2 && in.DOF == 9 && got.Contributions[i] != 0
		}
	}
	if !named {
		t.Errorf("got inputs %v, want low-limb position from its signal with 0.2 mm, 9 degrees of freedom and a contribution", c.Inputs())
	}
	r.LowExtra = Extra{U: quantity.Millimetres(0.7)}
	if c.WithTypical(r).LowExtra != r.LowExtra {
		t.Errorf("an extra that was worked out was replaced")
	}
}

// A position whose own uncertainty reaches over the end of the scale may be beyond it.
func TestExtraCountsAtTheEndOfTheScale(t *testing.T) {
	c := converter(t, newRig("inclined-reservoir").options(t))
	r := reading(0, 598, 21)
	if got := c.Convert(r); got.Status != Good {
		t.Fatalf("got %v %v, want good", got.Status, got.Causes)
	}
	r.LowExtra = Extra{U: quantity.Millimetres(1.5)}
	if got := c.Convert(r); len(got.Causes) != 1 || got.Causes[0] != LimbAtScaleEnd {
		t.Errorf("got %v, want %v", got.Causes, LimbAtScaleEnd)
	}
}
