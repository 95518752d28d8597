package uncertainty

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

const testSeed = 20260301 // fixed: the same draws in every run, so that tolerances of a few standard errors never fail by chance

func sum(x []float64) (float64, error) {
	var s float64
	for _, v := range x {
		s += v
	}
	return s, nil
}

func propagate(t *testing.T, m Model, in []Distribution, draws int, p float64) Estimate {
	t.Helper()
	e, err := Propagate(m, in, draws, testSeed, p)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Each sampler against the distribution function of the same law in gonum: Kolmogorov-Smirnov distance.
func TestSamplersFollowTheirLaw(t *testing.T) {
	const n = 20000
	type cdf interface{ CDF(float64) float64 }
	for _, c := range []struct {
		d    Distribution
		want cdf
	}{
		{Normal(3, 0.5), distuv.Normal{Mu: 3, Sigma: 0.5}},
		{ScaledT(3, 0.5, 4), distuv.StudentsT{Mu: 3, Sigma: 0.5, Nu: 4}},
		{ScaledT(-1, 2, 25.6), distuv.StudentsT{Mu: -1, Sigma: 2, Nu: 25.6}},
		{Rectangular(3, 0.5), distuv.Uniform{Min: 2.5, Max: 3.5}},
		{CurvilinearTrapezoid(3, 0.5, 0), distuv.Uniform{Min: 2.5, Max: 3.5}},
		{Triangular(3, 0.5), distuv.NewTriangle(2.5, 3.5, 3, nil)},
		{Arcsine(3, 0.5), shifted{distuv.Beta{Alpha: 0.5, Beta: 0.5}, 2.5}},
	} {
		draw, err := newDraw([]Distribution{c.d}, nil, testSeed)
		if err != nil {
			t.Fatal(err)
		}
		x, sample := make([]float64, 1), make([]float64, n)
		for i := range sample {
			draw(x)
			sample[i] = x[0]
		}
		e := summarize(sample, 0.95) // sorts
		worst := 0.0
		for i, v := range sample {
			f := c.want.CDF(v)
			worst = max(worst, math.Abs(f-float64(i)/n), math.Abs(float64(i+1)/n-f))
		}
		if limit := 1.95 / math.Sqrt(n); worst > limit {
			t.Errorf("%s: got a distance of %.5f from its law, want under %.5f (gonum, Kolmogorov-Smirnov at 0.1 %%)", c.d, worst, limit)
		}
		nearRel(t, c.d.String()+" standard deviation", e.StdU, c.d.StdU(), 0.03, "its own standard uncertainty")
		if s, ok := c.want.(interface{ StdDev() float64 }); ok {
			nearRel(t, c.d.String()+" StdU", c.d.StdU(), s.StdDev(), 1e-12, "gonum")
		}
	}
}

type shifted struct { // to [from, from+1]
	distuv.Beta
	from float64
}

func (s shifted) CDF(x float64) float64 { return s.Beta.CDF(min(1, max(0, x-s.from))) }

func TestSumOfFourNormals(t *testing.T) {
	in := []Distribution{Normal(0, 1), Normal(0, 1), Normal(0, 1), Normal(0, 1)}
	e := propagate(t, sum, in, 200000, 0.95)
	near(t, "mean", e.Mean, 0, 0.02, "exact; 4 standard errors")
	near(t, "u", e.StdU, 2, 0.015, "exact, √4; 4 standard errors")
	for _, end := range []float64{-e.Low, e.High, -e.ShortestLow, e.ShortestHigh} {
		near(t, "interval end", end, 2*1.959964, 0.08, "exact, 1.96·2 (JCGM 101:2008, 9.2.2 has the same case)")
	}
	a, err := Agree(0, 2, 2*coverage(t, 0.95).K(math.Inf(1)), e, 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "δ", a.Tolerance, 0.05, 0, "JCGM 101:2008, 7.9.2: u = 20·10⁻¹")
	if !a.Validated {
		t.Errorf("got %+v, want agreement: the model is linear and the inputs normal", a)
	}
}

// The sum of four rectangular quantities: its tail is (4−x)⁴/24 (Irwin-Hall), so its 95 % interval is known exactly and is
// narrower than the first-order one. JCGM 101:2008, 9.2.3 has the same case, ±3.88 against ±3.92 (from memory).
func TestSumOfFourRectangulars(t *testing.T) {
	r := Rectangular(0, math.Sqrt(3))
	e := propagate(t, sum, []Distribution{r, r, r, r}, 200000, 0.95)
	want := (4 - math.Pow(24*0.025, 0.25) - 2) * 2 * math.Sqrt(3)
	near(t, "u", e.StdU, 2, 0.015, "exact; 4 standard errors")
	near(t, "low", e.Low, -want, 0.043, "Irwin-Hall distribution; 4 standard errors")
	near(t, "high", e.High, want, 0.043, "Irwin-Hall distribution; 4 standard errors")
}

// For a lopsided outcome the two intervals differ: e^x of a standard normal has its symmetric one at e^±1.96.
func TestShortestIntervalOfALopsidedOutcome(t *testing.T) {
	e := propagate(t, func(x []float64) (float64, error) { return math.Exp(x[0]), nil }, []Distribution{Normal(0, 1)}, 200000, 0.95)
	nearRel(t, "low", e.Low, math.Exp(-1.959964), 0.025, "quantile of the lognormal distribution")
	nearRel(t, "high", e.High, math.Exp(1.959964), 0.025, "quantile of the lognormal distribution")
	law := distuv.LogNormal{Mu: 0, Sigma: 1}
	inside := law.CDF(e.ShortestHigh) - law.CDF(e.ShortestLow)
	near(t, "content of the shortest", inside, 0.95, 0.003, "gonum lognormal distribution")
	// At the shortest interval the density is the same at both ends; how well a sample finds that is loose.
	near(t, "density at the ends", law.Prob(e.ShortestLow), law.Prob(e.ShortestHigh), 0.05, "JCGM 101:2008, 5.3.4 note; calculus")
	if !(e.ShortestHigh-e.ShortestLow < e.High-e.Low) {
		t.Errorf("got shortest %v to %v, want it shorter than %v to %v", e.ShortestLow, e.ShortestHigh, e.Low, e.High)
	}
}

func gaugeLength(x []float64) (float64, error) {
	ls, d, alphaS, theta, deltaAlpha, deltaTheta := x[0], x[1], x[2], x[3], x[4], x[5]
	return ls + d - ls*(deltaAlpha*theta+alphaS*deltaTheta), nil
}

func TestMonteCarloOfTheEndGauge(t *testing.T) {
	tab := gumTable(t)
	parts := gaugeBlock(tab)
	var in []Distribution
	for _, c := range parts {
		in = append(in, Normal(c.Value, c.U))
	}
	e := propagate(t, gaugeLength, in, 200000, 0.99)
	tab.check(e.Mean, "H.1", "l")
	tab.check(e.StdU, "H.1", "u(l) Monte Carlo, all inputs normal")

	b, err := NewBudget(parts, nil, coverage(t, 0.99))
	if err != nil {
		t.Fatal(err)
	}
	a, err := Agree(e.Mean, b.CombinedU, b.ExpandedU, e, 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "δ", a.Tolerance, 0.5, 0, "u = 32 nm")
	if a.Validated {
		t.Errorf("got %+v, want no agreement: the model bends within one u (JCGM 100:2008, H.1.7)", a)
	}
}

// The inputs as JCGM 101:2008, 9.5 assigns them; d is the sum of three means there.
func TestMonteCarloOfTheEndGaugeWithAssignedDistributions(t *testing.T) {
	tab := gumTable(t)
	in := []Distribution{
		ScaledT(50000623, 25, 18), ScaledT(215, 5.8, 24), ScaledT(0, 3.9, 5), ScaledT(0, 6.7, 8),
		Rectangular(11.5e-6, 2e-6), Normal(-0.1, 0.2), Arcsine(0, 0.5),
		CurvilinearTrapezoid(0, 1e-6, 0.1e-6), CurvilinearTrapezoid(0, 0.05, 0.025),
	}
	model := func(x []float64) (float64, error) {
		return gaugeLength([]float64{x[0], x[1] + x[2] + x[3], x[4], x[5] + x[6], x[7], x[8]})
	}
	e := propagate(t, model, in, 200000, 0.99)
	tab.check(e.Mean, "H.1", "l")
	tab.check(e.StdU, "H.1", "u(l) Monte Carlo, JCGM 101 9.5 distributions")
	near(t, "low", e.Low-50e6, 745, 3, "numpy, 2·10⁶ draws of the same inputs")
	near(t, "high", e.High-50e6, 932, 3, "numpy, 2·10⁶ draws of the same inputs")
}

// The inclined limb with reservoir, first order and Monte Carlo, against two general-purpose libraries.
func TestInclinedLimb(t *testing.T) {
	tab := gumTable(t)
	g := func(q string) float64 { return tab.get("inclined_gauge", q) }
	names := []string{"rho20", "beta", "T", "g", "L", "L0", "theta_deg", "r", "rho_air", "alpha_scale"}
	value := []float64{g("rho at 20 C"), g("beta volumetric expansion"), g("T"), g("g"), g("L reading along tube") / 1000,
		g("L0 zero reading") / 1000, g("theta = asin(0.2)"), g("area ratio r tube/reservoir"), g("rho_air"), g("alpha_scale")}
	u := []float64{g("u(rho)"), g("u(beta)"), g("u(T)"), g("u(g)"), g("u(L)") / 1000, g("u(L0)") / 1000, g("u(theta)"), g("u(r)"), g("u(rho_air)"), g("u(alpha_scale)")}
	model := func(x []float64) (float64, error) {
		dt := x[2] - 20
		return (x[0]/(1+x[1]*dt) - x[8]) * x[3] * (x[4] - x[5]) * (1 + x[9]*dt) * (math.Sin(x[6]*math.Pi/180) + x[7]), nil
	}
	var parts []Component
	var in []Distribution
	for i := range value {
		at := func(step float64) float64 {
			x := append([]float64(nil), value...)
			x[i] += step
			p, _ := model(x)
			return p
		}
		h := u[i] / 100
		parts = append(parts, Component{names[i], "", value[i], u[i], (at(h) - at(-h)) / (2 * h), math.Inf(1), false})
		in = append(in, Normal(value[i], u[i]))
	}
	b, err := NewBudget(parts, nil, coverage(t, DefaultP))
	if err != nil {
		t.Fatal(err)
	}
	p, _ := model(value)
	tab.check(p, "inclined_gauge", "p")
	tab.check(b.CombinedU, "inclined_gauge", "u(p)")
	for i, n := range names {
		tab.check(math.Abs(b.Components[i].Contribution()), "inclined_gauge", "contribution of "+n)
	}
	e := propagate(t, model, in, 200000, DefaultP)
	tab.check(e.Mean, "inclined_gauge", "p Monte Carlo mean, all inputs normal")
	tab.check(e.StdU, "inclined_gauge", "u(p) Monte Carlo")
	a, err := Agree(p, b.CombinedU, b.ExpandedU, e, 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low deviation", a.LowDeviation, 0, 4*0.0072, "the model is almost linear; 4 standard errors of an interval end")
	near(t, "high deviation", a.HighDeviation, 0, 4*0.0072, "the model is almost linear; 4 standard errors of an interval end")
}

func TestCorrelatedDraws(t *testing.T) {
	tab := gumTable(t)
	g := func(q string) float64 { return tab.get("H.4", q) }
	in := []Distribution{Normal(g("A_S"), g("u(A_S)")), Normal(g("m_S"), g("u(m_S)")), Normal(g("m_x"), g("u(m_x)")), Normal(g("R_x"), g("u(R_x)")), Normal(g("R_S"), g("u(R_S)"))}
	model := func(x []float64) (float64, error) { return x[0] * x[1] / x[2] * x[3] / x[4], nil }
	e, err := PropagateCorrelated(model, in, []Correlation{{3, 4, g("r(R_x,R_S)")}}, 200000, testSeed, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(e.Mean, "H.4", "A_x = A_S (m_S/m_x)(R_x/R_S)")
	tab.check(e.StdU, "H.4", "u(A_x)")

	// Full correlation makes the matrix singular; the difference then has no uncertainty at all.
	e, err = PropagateCorrelated(func(x []float64) (float64, error) { return x[0] - x[2], nil },
		[]Distribution{Normal(5, 1), Rectangular(0, 1), Normal(2, 1)}, []Correlation{{2, 0, 1}}, MinDraws, testSeed, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "difference", e.Mean, 3, 1e-7, "r = 1")
	near(t, "its u", e.StdU, 0, 1e-7, "r = 1")

	draw, err := newDraw([]Distribution{Normal(1, 2), Normal(0, 3), Normal(5, 1)}, []Correlation{{0, 1, 0.6}, {1, 2, -0.7}}, testSeed)
	if err != nil {
		t.Fatal(err)
	}
	const n = 50000
	cols := [3][]float64{}
	x := make([]float64, 3)
	for range n {
		draw(x)
		for i, v := range x {
			cols[i] = append(cols[i], v)
		}
	}
	for _, c := range []Correlation{{0, 1, 0.6}, {1, 2, -0.7}, {0, 2, 0}} {
		near(t, "correlation of draws", stat.Correlation(cols[c.I], cols[c.J], nil), c.R, 4/math.Sqrt(n), "as asked; 4 standard errors, gonum stat")
	}
}

func TestPropagateRepeats(t *testing.T) {
	in := []Distribution{Normal(0, 1), ScaledT(0, 1, 5), Arcsine(0, 1)}
	one, two := propagate(t, sum, in, MinDraws, 0.95), propagate(t, sum, in, MinDraws, 0.95)
	if one != two {
		t.Errorf("same seed: got %+v and %+v", one, two)
	}
	other, err := Propagate(sum, in, MinDraws, testSeed+1, 0.95)
	if err != nil || other == one {
		t.Errorf("another seed: got %+v, %v, want another estimate", other, err)
	}
}

func TestPropagateRefuses(t *testing.T) {
	ok := []Distribution{Normal(0, 1)}
	boom := errors.New("the column runs out of the tube")
	for name, f := range map[string]func() error{
		"too few draws":  func() error { _, err := Propagate(sum, ok, 10, 1, 0.95); return err },
		"too many draws": func() error { _, err := Propagate(sum, ok, MaxDraws+1, 1, 0.95); return err },
		"p":              func() error { _, err := Propagate(sum, ok, MinDraws, 1, 95); return err },
		"no distribution": func() error {
			_, err := Propagate(sum, make([]Distribution, 1), MinDraws, 1, 0.95)
			return err
		},
		"mean": func() error {
			_, err := Propagate(sum, []Distribution{Normal(math.NaN(), 1)}, MinDraws, 1, 0.95)
			return err
		},
		"u": func() error { _, err := Propagate(sum, []Distribution{Normal(0, -1)}, MinDraws, 1, 0.95); return err },
		"t without s": func() error {
			_, err := Propagate(sum, []Distribution{ScaledT(0, 1, 2)}, MinDraws, 1, 0.95)
			return err
		},
		"inexact beyond": func() error {
			_, err := Propagate(sum, []Distribution{CurvilinearTrapezoid(0, 1, 2)}, MinDraws, 1, 0.95)
			return err
		},
		"correlated rectangulars": func() error {
			_, err := PropagateCorrelated(sum, []Distribution{Normal(0, 1), Rectangular(0, 1)}, []Correlation{{0, 1, 0.5}}, MinDraws, 1, 0.95)
			return err
		},
		"model says no": func() error {
			_, err := Propagate(func([]float64) (float64, error) { return 0, boom }, ok, MinDraws, 1, 0.95)
			if !errors.Is(err, boom) {
				t.Errorf("got %v, want the model's own reason in it", err)
			}
			return err
		},
		"model says nan": func() error {
			_, err := Propagate(func(x []float64) (float64, error) { return math.Sqrt(x[0]), nil }, ok, MinDraws, 1, 0.95)
			return err
		},
		"agreement, u":      func() error { _, err := Agree(0, 0, 1, Estimate{}, 2); return err },
		"agreement, U":      func() error { _, err := Agree(0, 1, math.NaN(), Estimate{}, 2); return err },
		"agreement, digits": func() error { _, err := Agree(0, 1, 1, Estimate{}, 3); return err },
	} {
		if err := f(); err == nil {
			t.Errorf("%s: got no error, want a refusal", name)
		}
	}
	if got := (Distribution{}).StdU(); !math.IsNaN(got) {
		t.Errorf("no distribution: got u %v, want NaN", got)
	}
}

func TestNumericalTolerance(t *testing.T) {
	for _, c := range []struct {
		u      float64
		digits int
		want   float64
		source string
	}{
		{0.00035, 2, 0.000005, "JCGM 101:2008, 7.9.2 example 1, from memory: 35·10⁻⁵"},
		{2, 1, 0.5, "JCGM 101:2008, 7.9.2 example 2, from memory: 2·10⁰"},
		{0.0996, 2, 0.005, "rounds up to 10·10⁻²"},
		{32, 2, 0.5, "32·10⁰"},
		{9.97e3, 2, 500, "rounds up to 10·10³"},
	} {
		a, err := Agree(0, c.u, 0, Estimate{}, c.digits)
		if err != nil {
			t.Fatal(err)
		}
		nearRel(t, "δ", a.Tolerance, c.want, 1e-12, c.source)
	}
}

func BenchmarkPropagate(b *testing.B) {
	in := make([]Distribution, 20)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range in {
		in[i] = Normal(r.Float64(), 1)
	}
	for b.Loop() {
		if _, err := Propagate(sum, in, 10000, 1, 0.95); err != nil {
			b.Fatal(err)
		}
	}
}
