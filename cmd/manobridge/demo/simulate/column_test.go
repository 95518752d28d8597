package simulate

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// walk goes from the high tap to the low one through every fluid and adds up the pressure on the way: down is plus. It
// uses nothing of settle, and gives p(high tap) − p(low tap).
func walk(c *column, high, low, t float64) float64 {
	zh := c.high.zeroH + high*c.high.sin
	zl := c.low.zeroH + low*c.low.sin
	p := 0.0
	step := func(rho, from, to float64) { p += rho * c.site.g * (from - to) }
	step(c.over(&c.high, t), c.high.tapH, zh)
	step(c.liquid.densityOf(t), zh, zl)
	step(c.over(&c.low, t), zl, c.low.tapH)
	return -p
}

// anyColumn draws an instrument of any shape.
func anyColumn(r *rapid.T) *column {
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(r, name) }
	oil := &liquidTruth{refDensity: f("over", 700, 950), refC: 20, expansion: 8e-4}
	c := &column{
		site:   &siteTruth{g: f("g", 9.78, 9.83), air: f("air", 0.7, 1.3)},
		liquid: &liquidTruth{refDensity: f("liquid", 980, 1600), refC: 20, expansion: f("expansion", 1e-4, 1e-3)},
		restC:  f("rest_c", 15, 25), charge: f("charge", 0, 5e-5), bodyPerK: 7e-5,
	}
	for _, l := range []*limbTruth{&c.high, &c.low} {
		*l = limbTruth{
			sin: f("sin", 0.03, 1), area: f("area", 3e-6, 3e-3), zeroH: f("zero height", -0.2, 0.2), tapH: f("tap", -1, 1),
			rest: f("rest", 0, 0.4),
		}
		if rapid.Bool().Draw(r, "has over") {
			l.over = oil
		}
	}
	c.high.rest = c.restHigh()
	return c
}

func TestSettledColumnBalances(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := anyColumn(r)
		p, temp := rapid.Float64Range(-5000, 5000).Draw(r, "p"), rapid.Float64Range(15, 30).Draw(r, "t")
		high, low := c.settle(p, temp)
		if got := walk(c, high, low, temp); math.Abs(got-p) > 1e-7 {
			t.Fatalf("force: the walk gives %.9f Pa, want %.9f ± 1e-7", got, p)
		}
		moved := c.high.area*(high-c.high.rest) + c.low.area*(low-c.low.rest)
		if swell := c.swell(temp); math.Abs(moved-swell) > 1e-15 {
			t.Fatalf("volume: the limbs gained %g m³, want %g ± 1e-15", moved, swell)
		}
	})
}

func TestAtRestThereIsNoPressure(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := anyColumn(r)
		if p := walk(c, c.high.rest, c.low.rest, c.restC); math.Abs(p) > 1e-8 {
			t.Fatalf("at rest: got %g Pa, want 0 ± 1e-8", p)
		}
		if high, low := c.settle(0, c.restC); math.Abs(high-c.high.rest) > 1e-11 || math.Abs(low-c.low.rest) > 1e-11 {
			t.Fatalf("no pressure: got %g and %g m, want %g and %g ± 1e-11", high, low, c.high.rest, c.low.rest)
		}
	})
}

func TestPressureOnHighLowersHigh(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := anyColumn(r)
		h0, l0 := c.settle(0, 20)
		h1, l1 := c.settle(100, 20)
		if !(h1 < h0 && l1 > l0) {
			t.Fatalf("100 Pa on the high limb: high %g to %g m, low %g to %g m, want down and up", h0, h1, l0, l1)
		}
	})
}

// simple makes an instrument without air, swell or scale, for textbook problems.
func simple(rho, g, dHigh, sinHigh, dLow, sinLow float64) *column {
	limb := func(d, sin float64) limbTruth { return limbTruth{sin: sin, area: math.Pi / 4 * d * d} }
	return &column{
		site: &siteTruth{g: g}, liquid: &liquidTruth{refDensity: rho}, restC: 20,
		high: limb(dHigh, sinHigh), low: limb(dLow, sinLow),
	}
}

func TestTextbookColumns(t *testing.T) {
	const psf = 47.88026 // Pa, pound-force per square foot. Source: NIST SP 811 (2008), B.8
	water := 1000.0      // cancels in the first problem
	tests := []struct {
		name     string
		c        *column
		p        float64
		want     float64 // m along the low limb
		relative float64 // half a unit of the last printed digit
		source   string
	}{
		{"reservoir gauge, area-ratio term", simple(0.827*water, 9.81, 0.018, 1, 0.006, 1), water * 9.81 * 0.025, 0.0272, 0.002,
			"Fox and McDonald, Introduction to Fluid Mechanics, problem 3.28: 27.2 mm for 25 mm of water"},
		{"inclined tube, large reservoir", simple(0.827*62.4*16.018463, 9.80665, 100, 1, 0.005, math.Sin(13.45*math.Pi/180)), psf, 0.0254, 0.001,
			"White, Fluid Mechanics, problem 2.37: 13.45° makes one inch read one psf"},
	}
	for _, tt := range tests {
		_, low := tt.c.settle(tt.p, 20)
		if math.Abs(low/tt.want-1) > tt.relative {
			t.Errorf("%s: got %.5f m, want %.5f ± %.5f (%s)", tt.name, low, tt.want, tt.want*tt.relative, tt.source)
		}
	}
}
