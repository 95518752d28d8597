package uncertainty

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

func (r row) numbers(t testing.TB) []float64 {
	t.Helper()
	var out []float64
	for f := range strings.SplitSeq(r.value, ";") {
		out = append(out, row{value: f}.number(t))
	}
	return out
}

func lineTable(t testing.TB) table {
	t.Helper()
	return readTable(t, "line_fit_weighted.csv", [2]string{"case", "quantity"}, "value", "comparison_tolerance_absolute")
}

func (tab table) list(name, quantity string) []float64 {
	tab.t.Helper()
	return tab.row(name, quantity).numbers(tab.t)
}

// fromWeights gives u for weights stated as 1/u².
func fromWeights(w []float64) []float64 {
	u := make([]float64, len(w))
	for i, v := range w {
		u[i] = 1 / math.Sqrt(v)
	}
	return u
}

func fit(t testing.TB) func(Line, error) Line {
	return func(l Line, err error) Line {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
}

func TestWeightedLineOfISO28037(t *testing.T) {
	tab := lineTable(t)
	const c = "iso28037_wls1"
	l := fit(t)(FitLineWeighted(tab.list(c, "x"), tab.list(c, "y"), tab.list(c, "u_y"), APriori))
	tab.check(l.Intercept, c, "intercept a")
	tab.check(l.Slope, c, "slope b")
	tab.check(l.UIntercept, c, "u(a)")
	tab.check(l.USlope, c, "u(b)")
	tab.check(l.Covariance, c, "cov(a,b)")
	tab.check(l.ResidualSS, c, "weighted residual sum of squares")
	x0, u, err := l.Inverse(10.5, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(x0, c, "inverse prediction x at y=10.5 u=0.5")
	tab.check(u, c, "u of inverse prediction")
	// The 95 % quantile of χ² with 4 degrees of freedom is 9.488; 1.665 is well inside, and the tail has a closed form.
	near(t, "p of χ²", l.ChiSquaredP(), math.Exp(-1.665/2)*(1+1.665/2), 2e-4, "χ² tail for 4 degrees of freedom; verdict as ISO/TS 28037:2010, 6.3")
	if l.DOF() != math.Inf(1) || l.ResidualDOF != 4 {
		t.Errorf("got ν %v and %d, want +Inf a priori and 4 for the residuals", l.DOF(), l.ResidualDOF)
	}
}

func TestLineWithWeightsOnlyInY(t *testing.T) {
	tab := lineTable(t)
	const c = "pearson_york_y_weights_only"
	l := fit(t)(FitLineWeighted(tab.list(c, "x"), tab.list(c, "y"), fromWeights(tab.list(c, "weights = 1/u_y^2")), APriori))
	tab.check(l.Intercept, c, "intercept a")
	tab.check(l.Slope, c, "slope b")
	tab.check(l.UIntercept*l.UIntercept, c, "var(a)")
	tab.check(l.USlope*l.USlope, c, "var(b)")
	tab.check(l.Covariance, c, "cov(a,b)")
}

// The same points on both bases, so that the two cannot be confused.
func TestLineOnBothBases(t *testing.T) {
	tab := lineTable(t)
	const c = "rescaled_weights"
	for basis, words := range map[Basis][3]string{
		APriori:        {"u(a) a-priori", "u(b) a-priori", "cov(a,b) a-priori"},
		ResidualScaled: {"s(a) residual-scaled", "s(b) residual-scaled", "cov(a,b) residual-scaled"},
	} {
		l := fit(t)(FitLineWeighted(tab.list(c, "x"), tab.list(c, "y"), tab.list(c, "u_y"), basis))
		tab.check(l.Intercept, c, "intercept a")
		tab.check(l.Slope, c, "slope b")
		tab.check(l.UIntercept, c, words[0])
		tab.check(l.USlope, c, words[1])
		tab.check(l.Covariance, c, words[2])
		if l.Basis != basis {
			t.Errorf("got basis %v, want %v", l.Basis, basis)
		}
	}
}

// JCGM 100:2008, H.3: correction of a thermometer against t − 20 °C.
func TestLineOfTheThermometer(t *testing.T) {
	tab := gumTable(t)
	var x, y []float64
	for i := range 11 {
		n := strconv.Itoa(i + 1)
		x = append(x, tab.get("H.3", "t"+n)-tab.get("H.3", "reference temperature t0"))
		y = append(y, tab.get("H.3", "b"+n))
	}
	l := fit(t)(FitLine(x, y))
	for _, example := range []string{"H.3", "H.3 full precision"} {
		tab.check(l.Intercept, example, "y1 intercept at t0")
		tab.check(l.UIntercept, example, "s(y1)")
		tab.check(l.Slope, example, "y2 slope")
		tab.check(l.USlope, example, "s(y2)")
		b, u := l.At(10)
		tab.check(b, example, "b at 30 C")
		tab.check(u, example, "u(b at 30 C)")
	}
	tab.check(l.Covariance/(l.UIntercept*l.USlope), "H.3", "r(y1,y2)")
	tab.check(l.ResidualSS, "H.3", "sum of squared residuals")
	tab.check(l.ResidualSD, "H.3", "s residual")
	if l.Covers(10) || !l.Covers(3) || l.DOF() != 9 {
		t.Errorf("got Covers(10) %v, Covers(3) %v, ν %v; want false, true, 9 (JCGM 100:2008, H.3.3: 30 °C is extrapolated)", l.Covers(10), l.Covers(3), l.DOF())
	}
}

func TestLineUncertainOnBothAxesOfISO28037(t *testing.T) {
	tab := lineTable(t)
	const c = "iso28037_errors_in_both"
	l := fit(t)(FitLineBothAxes(tab.list(c, "x"), []float64{0.2, 0.2, 0.2, 0.2, 0.2, 0.2}, tab.list(c, "y"), tab.list(c, "u_y"), APriori))
	for quantity, got := range map[string]float64{"intercept a": l.Intercept, "slope b": l.Slope, "u(a)": l.UIntercept,
		"u(b)": l.USlope, "cov(a,b)": l.Covariance} {
		r := tab.row(c, quantity)
		near(t, quantity, got, r.number(t), 5e-5, r.source) // half a unit of the last printed digit
	}
	tab.check(l.ResidualSS, c, "residual sum of squares")
}

// Pearson's data with York's weights, the usual trial for such a fit. The published uncertainties are those of the law of
// propagation at the points as observed; they are found here by moving each point and fitting again, which tries the
// search harder than the formulas do. Those of the standard, at the adjusted points, lie 1 % away.
func TestPearsonDataWithYorkWeights(t *testing.T) {
	tab := lineTable(t)
	const c = "pearson_york_both_axes"
	x, y := tab.list(c, "x"), tab.list(c, "y")
	ux, uy := fromWeights(tab.list(c, "weights = 1/u_x^2")), fromWeights(tab.list(c, "weights = 1/u_y^2"))
	l := fit(t)(FitLineBothAxes(x, ux, y, uy, APriori))
	tab.check(l.Intercept, c, "intercept a")
	tab.check(l.Slope, c, "slope b")
	tab.check(l.ResidualSD*l.ResidualSD, c, "reduced chi squared")

	var varA, varB float64
	for _, axis := range []struct{ v, u []float64 }{{x, ux}, {y, uy}} {
		for i, v := range axis.v {
			const step = 1e-4 // of u
			axis.v[i] = v + step*axis.u[i]
			up := fit(t)(FitLineBothAxes(x, ux, y, uy, APriori))
			axis.v[i] = v - step*axis.u[i]
			down := fit(t)(FitLineBothAxes(x, ux, y, uy, APriori))
			axis.v[i] = v
			varA += math.Pow((up.Intercept-down.Intercept)/(2*step), 2)
			varB += math.Pow((up.Slope-down.Slope)/(2*step), 2)
		}
	}
	tab.check(math.Sqrt(varA), c, "u(a)")
	tab.check(math.Sqrt(varB), c, "u(b)")
	near(t, "u(a) at the adjusted points", l.UIntercept, 0.2950, 5e-5, "York et al. (2004), table II, from memory; within 1.1 % of the published value above")
	near(t, "u(b) at the adjusted points", l.USlope, 0.0580, 5e-5, "York et al. (2004), table II, from memory; within 0.7 % of the published value above")
	nearRel(t, "u(a) against propagation", l.UIntercept, tab.get(c, "u(a)"), 0.011, "Kalantar (1992)")
	nearRel(t, "u(b) against propagation", l.USlope, tab.get(c, "u(b)"), 0.007, "Kalantar (1992)")
}

type points struct{ x, y, u []float64 }

func somePoints(t *rapid.T) points {
	n := rapid.IntRange(3, 20).Draw(t, "n")
	p := points{}
	a, b := rapid.Float64Range(-50, 50).Draw(t, "a"), rapid.Float64Range(0.5, 5).Draw(t, "b")
	for i := range n {
		x := float64(i) + rapid.Float64Range(-0.3, 0.3).Draw(t, "x")
		p.x = append(p.x, x)
		p.y = append(p.y, a+b*x+rapid.Float64Range(-0.2, 0.2).Draw(t, "y"))
		p.u = append(p.u, rapid.Float64Range(0.1, 2).Draw(t, "u"))
	}
	return p
}

func TestLineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := somePoints(t)
		must := func(l Line, err error) Line {
			if err != nil {
				t.Fatal(err)
			}
			return l
		}
		same := func(what string, got, want Line) {
			for _, v := range [][2]float64{{got.Intercept, want.Intercept}, {got.Slope, want.Slope}, {got.UIntercept, want.UIntercept}, {got.USlope, want.USlope}, {got.Covariance, want.Covariance}} {
				if math.Abs(v[0]-v[1]) > 1e-8*(1+math.Abs(v[1])) {
					t.Fatalf("%s: got %+v, want %+v", what, got, want)
				}
			}
		}
		l := must(FitLineWeighted(p.x, p.y, p.u, APriori))

		w := make([]float64, len(p.u))
		for i, u := range p.u {
			w[i] = 1 / (u * u)
		}
		if a, b := stat.LinearRegression(p.x, p.y, w, false); math.Abs(a-l.Intercept) > 1e-8 || math.Abs(b-l.Slope) > 1e-8 {
			t.Fatalf("got %v + %v x, want %v + %v x (gonum stat)", l.Intercept, l.Slope, a, b)
		}

		// No uncertainty in x: the fit on both axes is the weighted one, on either basis.
		zero := make([]float64, len(p.x))
		for _, basis := range []Basis{APriori, ResidualScaled} {
			same("exact x", must(FitLineBothAxes(p.x, zero, p.y, p.u, basis)), must(FitLineWeighted(p.x, p.y, p.u, basis)))
		}

		// Exchanged axes give the exchanged line: x = −a/b + y/b.
		ux := make([]float64, len(p.x))
		for i := range ux {
			ux[i] = p.u[len(p.u)-1-i] / 4
		}
		both, back := must(FitLineBothAxes(p.x, ux, p.y, p.u, APriori)), must(FitLineBothAxes(p.y, p.u, p.x, ux, APriori))
		if math.Abs(back.Slope*both.Slope-1) > 1e-8 || math.Abs(back.Intercept+both.Intercept/both.Slope) > 1e-7*(1+math.Abs(back.Intercept)) {
			t.Fatalf("exchanged axes: got %+v, want the inverse of %+v", back, both)
		}
		if math.Abs(back.ResidualSS-both.ResidualSS) > 1e-7*(1+both.ResidualSS) {
			t.Fatalf("exchanged axes: got χ² %v, want %v", back.ResidualSS, both.ResidualSS)
		}

		// A line used forwards and backwards comes home; at y's own uncertainty 0 only the line's is left.
		x := rapid.Float64Range(-5, 25).Draw(t, "at")
		y, u := l.At(x)
		if math.Abs(l.Slope) > 2*l.USlope {
			x0, u0, err := l.Inverse(y, 0)
			if err != nil || math.Abs(x0-x) > 1e-9*(1+math.Abs(x)) || math.Abs(u0-u/math.Abs(l.Slope)) > 1e-7 {
				t.Fatalf("there and back from %v: got %v ± %v, %v, want ± %v", x, x0, u0, err, u/math.Abs(l.Slope))
			}
			if _, more, _ := l.Inverse(y, 1); more < u0 {
				t.Fatalf("more uncertainty in, %v out instead of %v", more, u0)
			}
		}
	})
}

func TestLineThroughTwoPointsAPriori(t *testing.T) {
	l := fit(t)(FitLineWeighted([]float64{0, 10}, []float64{1, 21}, []float64{0.1, 0.1}, APriori))
	near(t, "slope", l.Slope, 2, 1e-14, "by hand")
	near(t, "u(b)", l.USlope, 0.1*math.Sqrt2/10, 1e-14, "difference of two over 10")
	near(t, "u(a)", l.UIntercept, 0.1, 1e-14, "the point at 0")
	if !math.IsNaN(l.ResidualSD) || !math.IsNaN(l.ChiSquaredP()) {
		t.Errorf("got residual s %v and p %v, want NaN: two points leave no residual", l.ResidualSD, l.ChiSquaredP())
	}
}

func TestLineRefuses(t *testing.T) {
	nan, x, y, u := math.NaN(), []float64{1, 2, 3}, []float64{1, 2, 4}, []float64{1, 1, 1}
	z := []float64{0, 0, 0}
	for name, f := range map[string]func() (Line, error){
		"two points, no uncertainties": func() (Line, error) { return FitLine(x[:2], y[:2]) },
		"unequal lists":                func() (Line, error) { return FitLine(x[:2], y) },
		"x does not vary":              func() (Line, error) { return FitLine(u, y) },
		"x not a number":               func() (Line, error) { return FitLine([]float64{1, nan, 3}, y) },
		"y not a number":               func() (Line, error) { return FitLine(x, []float64{1, nan, 3}) },
		"u missing":                    func() (Line, error) { return FitLineWeighted(x, y, nil, APriori) },
		"u missing, residuals":         func() (Line, error) { return FitLineWeighted(x, y, nil, ResidualScaled) },
		"u zero":                       func() (Line, error) { return FitLineWeighted(x, y, z, APriori) },
		"u short":                      func() (Line, error) { return FitLineWeighted(x, y, u[:2], APriori) },
		"basis not stated":             func() (Line, error) { return FitLineWeighted(x, y, u, 0) },
		"one point":                    func() (Line, error) { return FitLineWeighted(x[:1], y[:1], u[:1], APriori) },
		"both axes, exact point":       func() (Line, error) { return FitLineBothAxes(x, z, y, z, APriori) },
		"both axes, negative":          func() (Line, error) { return FitLineBothAxes(x, []float64{1, -1, 1}, y, u, APriori) },
		"both axes, short u":           func() (Line, error) { return FitLineBothAxes(x, u, y, u[:2], APriori) },
		"both axes, short x":           func() (Line, error) { return FitLineBothAxes(x[:2], u, y, u, APriori) },
		"both axes, x does not vary":   func() (Line, error) { return FitLineBothAxes(u, u, y, u, APriori) },
		"both axes, two from residuals": func() (Line, error) {
			return FitLineBothAxes(x[:2], u[:2], y[:2], u[:2], ResidualScaled)
		},
	} {
		if l, err := f(); err == nil {
			t.Errorf("%s: got %+v, want a refusal", name, l)
		}
	}
	flat := fit(t)(FitLineWeighted(x, []float64{1, 1, 1.1}, u, APriori))
	if x0, _, err := flat.Inverse(1, 0.1); err == nil {
		t.Errorf("flat line backwards: got %v, want a refusal", x0)
	}
	good := fit(t)(FitLine(x, y))
	for _, c := range [][2]float64{{nan, 1}, {1, nan}, {1, -1}} {
		if x0, _, err := good.Inverse(c[0], c[1]); err == nil {
			t.Errorf("backwards from %v: got %v, want a refusal", c, x0)
		}
	}
	for b, want := range map[Basis]string{0: "not stated", APriori: "a priori", ResidualScaled: "from the residuals"} {
		if b.String() != want {
			t.Errorf("got %q, want %q", b, want)
		}
	}
}
