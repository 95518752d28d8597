package convert

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
)

// Every contribution to the uncertainty against the change of the result when the whole instrument is built again with
// that one input moved by its standard uncertainty: numerical evaluation of c_i u(x_i) as ½[f(x+u) − f(x−u)].
// Source of the method: JCGM 100:2008, 5.1.3 note 2.
func TestContributionsEqualNudges(t *testing.T) {
	type nudge func(r *rig, rd *Reading, by float64) // by is +1 or −1 standard uncertainty
	common := map[string]nudge{
		"low-limb position":         func(_ *rig, rd *Reading, by float64) { rd.Low.V += quantity.Metres(1e-4 * by) },
		"liquid temperature":        func(_ *rig, rd *Reading, by float64) { rd.Temperature.V += quantity.Temperature(0.3 * by) },
		"ambient temperature":       func(r *rig, _ *Reading, by float64) { r.ambientT += by },
		"local gravity":             func(r *rig, _ *Reading, by float64) { r.g += 2e-4 * by },
		"oil density at reference":  func(r *rig, _ *Reading, by float64) { r.rho += 0.4 * by },
		"oil expansion coefficient": func(r *rig, _ *Reading, by float64) { r.beta += 3e-5 * by },
		"air pressure":              func(r *rig, _ *Reading, by float64) { r.pressure += 300 * by },
		"air relative humidity":     func(r *rig, _ *Reading, by float64) { r.humidity += 0.05 * by },
		"scale expansion":           func(r *rig, _ *Reading, by float64) { r.alpha += 5e-6 * by },
	}
	zero := map[string]nudge{
		"low-limb position at the zero":  func(r *rig, _ *Reading, by float64) { r.zeroLow += 1.5e-4 * by },
		"liquid temperature at the zero": func(r *rig, _ *Reading, by float64) { r.zeroT += 0.3 * by },
	}
	for _, tt := range []struct {
		kind   string
		charge float64
		more   []map[string]nudge
	}{
		{"u-tube", 0, []map[string]nudge{common, zero, {
			"high-limb position":             func(_ *rig, rd *Reading, by float64) { rd.High.V += quantity.Metres(1e-4 * by) },
			"high-limb position at the zero": func(r *rig, _ *Reading, by float64) { r.zeroHigh += 1.5e-4 * by },
		}}},
		{"inclined-reservoir", 0, []map[string]nudge{common, zero, {
			"slope":      func(r *rig, _ *Reading, by float64) { r.slope += 3e-4 * by },
			"bore":       func(r *rig, _ *Reading, by float64) { r.bore += 2e-5 * by },
			"other bore": func(r *rig, _ *Reading, by float64) { r.resBore += 5e-5 * by },
		}}},
		{"inclined-reservoir", 6e-5, []map[string]nudge{common, zero}},
		{"limb-pair", 0, []map[string]nudge{common, {
			"high-limb position at the tie":   func(r *rig, _ *Reading, by float64) { r.tieHigh += 1.5e-4 * by },
			"low-limb position at the tie":    func(r *rig, _ *Reading, by float64) { r.tieLow += 1.5e-4 * by },
			"liquid temperature at the tie":   func(r *rig, _ *Reading, by float64) { r.tieT += 0.3 * by },
			"slope":                           func(r *rig, _ *Reading, by float64) { r.slope += 3e-4 * by },
			"bore":                            func(r *rig, _ *Reading, by float64) { r.bore += 2e-5 * by },
			"other bore":                      func(r *rig, _ *Reading, by float64) { r.highBore += 5e-5 * by },
			"low scale zero":                  func(r *rig, _ *Reading, by float64) { r.lowScaleZero += 2e-4 * by },
			"high tap":                        func(r *rig, _ *Reading, by float64) { r.highTap += 3e-4 * by },
			"light oil density at reference":  func(r *rig, _ *Reading, by float64) { r.overRho += 0.4 * by },
			"light oil expansion coefficient": func(r *rig, _ *Reading, by float64) { r.overBeta += 3e-5 * by },
		}}},
	} {
		t.Run(tt.kind, func(t *testing.T) {
			at := newRig(tt.kind)
			at.charge = tt.charge
			rd := reading(300, 380, 27.5)
			c := converter(t, at.options(t))
			res := c.Convert(rd)
			if res.Status == Bad {
				t.Fatalf("got a refusal: %v", res.Refusal)
			}
			nudges := map[string]nudge{}
			for _, m := range tt.more {
				for k, v := range m {
					nudges[k] = v
				}
			}
			pressure := func(by float64, n nudge) float64 {
				r, one := at, rd
				n(&r, &one, by)
				got := converter(t, r.options(t)).Convert(one)
				if got.Status == Bad {
					t.Fatal(got.Refusal)
				}
				return float64(got.Differential)
			}
			seen := 0
			for i, in := range c.Inputs() {
				n, ok := nudges[in.Name]
				if !ok {
					// The equation of moist air is not a number that can be nudged from outside.
					if in.U != 0 && in.Name != "air density equation" && tt.charge == 0 {
						t.Errorf("input %q has no nudge here", in.Name)
					}
					continue
				}
				seen++
				got, want := res.Contributions[i], (pressure(1, n)-pressure(-1, n))/2
				if tol := 1e-6 + 2e-3*math.Abs(want); math.Abs(got-want) > tol {
					t.Errorf("%s: got %v Pa, want %v ± %v Pa", in.Name, got, want, tol)
				}
			}
			if seen != len(nudges) {
				t.Errorf("got %d of %d nudged inputs among %v", seen, len(nudges), c.Inputs())
			}
		})
	}
}
