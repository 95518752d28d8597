package uncertainty

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// gaugeBlock is JCGM 100:2008, H.1: the length of an end gauge by comparison.
func gaugeBlock(tab table) []Component {
	g := func(q string) float64 { return tab.get("H.1", q) }
	ls, inf := g("ls standard length"), math.Inf(1)
	return []Component{
		{"ls", "nm", ls, g("u(ls)"), 1 - (g("delta_alpha")*g("theta") + g("alpha_s")*g("delta_theta")), 18, false},
		{"d", "nm", g("d difference"), g("u(d)"), 1, 25.6, false},
		{"alpha_s", "1/K", g("alpha_s"), g("u(alpha_s)"), -ls * g("delta_theta"), inf, false},
		{"theta", "K", g("theta"), g("u(theta)"), -ls * g("delta_alpha"), inf, false},
		{"delta_alpha", "1/K", g("delta_alpha"), g("u(delta_alpha)"), -ls * g("theta"), 50, false},
		{"delta_theta", "K", g("delta_theta"), g("u(delta_theta)"), -ls * g("alpha_s"), 2, true},
	}
}

func TestBudgetOfTheEndGauge(t *testing.T) {
	tab := gumTable(t)
	b, err := NewBudget(gaugeBlock(tab), nil, coverage(t, 0.99))
	if err != nil {
		t.Fatal(err)
	}
	tab.check(b.CombinedU, "H.1", "u_c(l)")
	tab.check(TruncateDOF(b.EffectiveDOF), "H.1", "effective degrees of freedom")
	near(t, "ν_eff before truncation", b.EffectiveDOF, 16.7, 0.1, "JCGM 100:2008, H.1.6; inputs printed to two digits")
	tab.check(b.CoverageFactor, "H.1", "k for 99 percent")
	tab.check(b.ExpandedU, "H.1", "U99")
	tab.check(math.Abs(b.Components[0].Contribution()), "H.1", "contribution of ls")
	tab.check(math.Abs(b.Components[4].Contribution()), "H.1", "contribution of delta_alpha")
	tab.check(math.Abs(b.Components[5].Contribution()), "H.1", "contribution of delta_theta")
	if b.ApproximateDOF {
		t.Error("got ApproximateDOF, want the plain formula: the inputs are independent")
	}

	shares := b.Shares()
	for i, want := range []string{"ls", "delta_theta", "d", "delta_alpha"} {
		if shares[i].Name != want {
			t.Errorf("share %d: got %s, want %s (JCGM 100:2008, table H.1, by size of contribution)", i, shares[i].Name, want)
		}
	}
	if !shares[1].Assumed || shares[0].Assumed {
		t.Error("Assumed must follow its component into the shares")
	}
	near(t, "share of ls", shares[0].Fraction, 25.0*25/(31.7*31.7), 0.005, "25² of u_c² = 1002 nm², JCGM 100:2008, H.1.4")
}

// The curvature of the same model: only the products of two inputs bend it.
func TestSecondOrderOfTheEndGauge(t *testing.T) {
	tab := gumTable(t)
	parts := gaugeBlock(tab)
	n := len(parts)
	u, first := make([]float64, n), make([]float64, n)
	second := make([][]float64, n)
	for i, c := range parts {
		u[i], first[i], second[i] = c.U, c.Sensitivity, make([]float64, n)
	}
	set := func(i, j int, v float64) { second[i][j], second[j][i] = v, v }
	const ls, alphaS, theta, deltaAlpha, deltaTheta = 0, 2, 3, 4, 5
	set(ls, deltaAlpha, -parts[theta].Value)
	set(ls, deltaTheta, -parts[alphaS].Value)
	set(deltaAlpha, theta, -parts[ls].Value)
	set(alphaS, deltaTheta, -parts[ls].Value)
	extra, err := SecondOrderVariance(u, first, second, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewBudget(parts, nil, coverage(t, 0.99))
	if err != nil {
		t.Fatal(err)
	}
	got := math.Sqrt(b.CombinedU*b.CombinedU + extra)
	tab.check(got, "H.1", "u_c(l) with second-order terms")
	tab.check(got, "H.1", "u(l) Monte Carlo, all inputs normal")
}

// y = x² at a normal x has variance 4μ²σ² + 2σ⁴ exactly, and y = x³ at μ has 9μ⁴σ² + 36μ²σ⁴ + 15σ⁶: the formula must
// give the terms in σ⁴. Source: moments of the normal distribution.
func TestSecondOrderVarianceOfPowers(t *testing.T) {
	const mu, sigma = 3.0, 0.1
	square, err := SecondOrderVariance([]float64{sigma}, []float64{2 * mu}, [][]float64{{2}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	nearRel(t, "x²", square, 2*math.Pow(sigma, 4), 1e-12, "moments of the normal distribution")
	cube, err := SecondOrderVariance([]float64{sigma}, []float64{3 * mu * mu}, [][]float64{{6 * mu}}, [][]float64{{6}})
	if err != nil {
		t.Fatal(err)
	}
	nearRel(t, "x³", cube, 36*mu*mu*math.Pow(sigma, 4), 1e-12, "moments of the normal distribution")
}

// resistance is JCGM 100:2008, H.2, from the raw observations: V, I and φ seen together five times.
func resistance(t *testing.T, tab table) (mean [3]Sample, r [3]Correlation) {
	t.Helper()
	var obs [3][]float64
	for q, name := range []string{"V", "I", "phi"} {
		for _, n := range []string{"1", "2", "3", "4", "5"} {
			obs[q] = append(obs[q], tab.get("H.2", name+n))
		}
		s, err := Mean(obs[q])
		if err != nil {
			t.Fatal(err)
		}
		mean[q] = s
	}
	for k, p := range [3][2]int{{0, 1}, {0, 2}, {1, 2}} {
		c, err := CorrelationOfMeans(obs[p[0]], obs[p[1]])
		if err != nil {
			t.Fatal(err)
		}
		r[k] = Correlation{p[0], p[1], c}
	}
	return mean, r
}

func TestBudgetOfSimultaneousResistanceAndImpedance(t *testing.T) {
	tab := gumTable(t)
	m, r := resistance(t, tab)
	for q, name := range []string{"V", "I", "phi"} {
		tab.check(m[q].Mean, "H.2", "mean "+name)
		tab.check(m[q].U, "H.2", "s(mean "+name+")")
	}
	for k, name := range []string{"r(V,I)", "r(V,phi)", "r(I,phi)"} {
		tab.check(r[k].R, "H.2", name)
	}
	v, i, phi := m[0].Mean, m[1].Mean/1000, m[2].Mean // current in A
	ui := m[1].U / 1000
	parts := func(cv, ci, cphi float64) []Component {
		return []Component{
			{"V", "V", v, m[0].U, cv, 4, false},
			{"I", "A", i, ui, ci, 4, false},
			{"phi", "rad", phi, m[2].U, cphi, 4, false},
		}
	}
	sin, cos := math.Sincos(phi)
	tab.check(v*cos/i, "H.2", "R = V cos(phi)/I")
	tab.check(v/i, "H.2", "Z = V/I")
	c := coverage(t, 0.95)
	br, err := NewBudget(parts(cos/i, -v*cos/(i*i), -v*sin/i), r[:], c)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(br.CombinedU, "H.2", "u(R)")
	bz, err := NewBudget(parts(1/i, -v/(i*i), 0), r[:], c)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(bz.CombinedU, "H.2", "u(Z)")
	// Five observations made together leave four degrees of freedom, whatever is computed from them.
	if !br.ApproximateDOF || br.EffectiveDOF != 4 {
		t.Errorf("ν of R: got %v (approximate %v), want 4 and marked (JCGM 100:2008, H.2.4)", br.EffectiveDOF, br.ApproximateDOF)
	}
	// The second approach of H.2.4: R computed for each set, then averaged, needs no correlations at all.
	var direct []float64
	for _, n := range []string{"1", "2", "3", "4", "5"} {
		direct = append(direct, tab.get("H.2", "V"+n)*math.Cos(tab.get("H.2", "phi"+n))/tab.get("H.2", "I"+n)*1000)
	}
	s, err := Mean(direct)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(s.U, "H.2", "u(R)")
	// The two differ by the curvature of the model over the spread of single observations, some parts in a thousand.
	nearRel(t, "u(R), second approach", br.CombinedU, s.U, 0.005, "JCGM 100:2008, H.2.4, approach 2 on the same data")
	var sum float64
	for _, sh := range br.Shares() {
		sum += sh.Fraction
	}
	near(t, "sum of shares", sum, 1, 1e-12, "definition")
}

func TestBudgetOfRadonActivity(t *testing.T) {
	tab := gumTable(t)
	g := func(q string) float64 { return tab.get("H.4", q) }
	as, ms, mx, rx, rs := g("A_S"), g("m_S"), g("m_x"), g("R_x"), g("R_S")
	ax := as * ms / mx * rx / rs
	inf := math.Inf(1)
	b, err := NewBudget([]Component{
		{"A_S", "Bq/g", as, g("u(A_S)"), ax / as, inf, false},
		{"m_S", "g", ms, g("u(m_S)"), ax / ms, inf, false},
		{"m_x", "g", mx, g("u(m_x)"), -ax / mx, inf, false},
		{"R_x", "1/min", rx, g("u(R_x)"), ax / rx, inf, false},
		{"R_S", "1/min", rs, g("u(R_S)"), -ax / rs, inf, false},
	}, []Correlation{{3, 4, g("r(R_x,R_S)")}}, coverage(t, DefaultP))
	if err != nil {
		t.Fatal(err)
	}
	tab.check(ax, "H.4", "A_x = A_S (m_S/m_x)(R_x/R_S)")
	tab.check(b.CombinedU, "H.4", "u(A_x)")
	if b.ApproximateDOF || !math.IsInf(b.EffectiveDOF, 1) {
		t.Errorf("got ν %v, approximate %v; want +Inf and not: no input has a finite ν", b.EffectiveDOF, b.ApproximateDOF)
	}
	last := b.Shares()[5]
	if last.Name != CorrelationShare || last.Index != -1 || !(last.Fraction < 0) {
		t.Errorf("got last line %+v, want a negative correlation share: the two counts move together and divide", last)
	}
}

func TestBudgetRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	good := Component{"x", "m", 1, 0.1, 2, inf, false}
	with := func(f func(*Component)) []Component { c := good; f(&c); return []Component{good, c} }
	three := []Component{good, good, good}
	for name, c := range map[string]struct {
		parts []Component
		pairs []Correlation
	}{
		"negative u":             {parts: with(func(c *Component) { c.U = -1 })},
		"u not a number":         {parts: with(func(c *Component) { c.U = nan })},
		"value infinite":         {parts: with(func(c *Component) { c.Value = inf })},
		"sensitivity nan":        {parts: with(func(c *Component) { c.Sensitivity = nan })},
		"product overflows":      {parts: with(func(c *Component) { c.Sensitivity, c.U = 1e200, 1e200 })},
		"ν not set":              {parts: with(func(c *Component) { c.DOF = 0 })},
		"ν below one":            {parts: with(func(c *Component) { c.DOF = 0.5 })},
		"r above one":            {three, []Correlation{{0, 1, 1.01}}},
		"r not a number":         {three, []Correlation{{0, 1, nan}}},
		"with itself":            {three, []Correlation{{1, 1, 1}}},
		"no such input":          {three, []Correlation{{0, 3, 0.1}}},
		"negative input":         {three, []Correlation{{-1, 2, 0.1}}},
		"pair twice":             {three, []Correlation{{0, 1, 0.1}, {1, 0, 0.1}}},
		"three all opposed":      {three, []Correlation{{0, 1, -0.9}, {0, 2, -0.9}, {1, 2, -0.9}}},
		"alike to two opposites": {three, []Correlation{{0, 1, 1}, {0, 2, 1}, {1, 2, -1}}},
	} {
		_, err := NewBudget(c.parts, c.pairs, coverage(t, DefaultP))
		var re *RangeError
		if !errors.As(err, &re) {
			t.Errorf("%s: got %v, want a *RangeError", name, err)
		}
	}
	if _, err := NewBudget(three, nil, nil); err == nil {
		t.Error("no coverage: got no error, want a refusal")
	}
}

func TestFullyCorrelatedContributionsAddLinearly(t *testing.T) {
	c := coverage(t, DefaultP)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "n")
		var parts []Component
		var pairs []Correlation
		sum := 0.0
		for i := range n {
			sensitivity := rapid.Float64Range(-10, 10).Draw(t, "c")
			u := rapid.Float64Range(0, 10).Draw(t, "u")
			parts = append(parts, Component{"x", "1", 0, u, sensitivity, rapid.Float64Range(1, 50).Draw(t, "nu"), false})
			sum += sensitivity * u
			for j := range i {
				pairs = append(pairs, Correlation{j, i, 1})
			}
		}
		b, err := NewBudget(parts, pairs, c)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(b.CombinedU-math.Abs(sum)) > 1e-6 { // a root near zero keeps half the digits
			t.Fatalf("got u_c %v, want |Σ d| = %v (JCGM 100:2008, 5.2.2 note 1)", b.CombinedU, math.Abs(sum))
		}
	})
}
