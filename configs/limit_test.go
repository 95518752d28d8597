package configs

import (
	"math"
	"strings"
	"testing"
)

// The units: 1 inH2O (conventional) is 249.0889 Pa, NIST Special Publication 811 (2008), appendix B.8; a minute is 60 s.
func TestBounds(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		text string
		want Bounds
	}{
		{"high: 250 Pa, deadband: 5 Pa", Bounds{-inf, 250, 5}},
		{"low: 0.02 inH2O", Bounds{0.02 * 249.0889, inf, 0}},
		{"high: -0.01 inH2O, low: -0.03 inH2O", Bounds{-0.03 * 249.0889, -0.01 * 249.0889, 0}},
		{"keep_sign: positive, deadband: 0.5 Pa", Bounds{0, inf, 0.5}},
		{"keep_sign: negative", Bounds{-inf, 0, 0}},
		{"rate: {over: 1m, high: 6 Pa/min, low: -36 hPa/h}, deadband: 0.6 Pa/min", Bounds{-1, 0.1, 0.01}},
	} {
		file := minimal + "limits:\n  loaded: {of: hepa-bank-2, " + c.text + ", decision: guarded-acceptance, priority: low, response: change the filter}\n"
		got := parsed(t, file).Limits[0].Bounds()
		for _, v := range [][2]float64{{got.Low, c.want.Low}, {got.High, c.want.High}, {got.Deadband, c.want.Deadband}} {
			if v[0] != v[1] && !(math.Abs(v[0]-v[1]) < 1e-6) {
				t.Errorf("%s: got %+v, want %+v ± 1e-6", c.text, got, c.want)
			}
		}
	}
}

func TestLimitRemarks(t *testing.T) {
	c := parsed(t, changed(t, "    zero:", "    range_pa: [0, 400]\n    zero:")+
		"limits:\n  loaded: {of: hepa-bank-2, high: 2 inH2O, decision: guarded-acceptance, priority: low, response: change the filter}\n")
	for _, want := range []string{"no reference", "no deadband", "is outside the range", "without a temperature"} {
		found := false
		for _, r := range c.Remarks {
			found = found || strings.Contains(r.String(), want)
		}
		if !found {
			t.Errorf("got %v, want a remark with %q", c.Remarks, want)
		}
	}
}
