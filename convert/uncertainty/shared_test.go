package uncertainty

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

var common, own = Input{DOF: math.Inf(1)}, Input{Independent: true, DOF: math.Inf(1)}

// Ten resistors calibrated against one standard whose uncertainty is 0.1 Ω, with a perfect comparison: in series their
// uncertainty is 1 Ω, and not the 0.32 Ω that independent ones would have.
func TestSumOfResultsWithOneStandard(t *testing.T) {
	var weights []float64
	var results, apart [][]Shared
	for i := range 10 {
		weights = append(weights, 1)
		results = append(results, []Shared{{"standard", 0.1, common}})
		apart = append(apart, []Shared{{"standard " + strconv.Itoa(i), 0.1, common}})
	}
	uc, nu, err := WeightedSum(weights, results...)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u of the series", uc, 1, 1e-14, "JCGM 100:2008, 5.2.2 example")
	if !math.IsInf(nu, 1) {
		t.Errorf("ν: got %v, want +Inf", nu)
	}
	if uc, _, err = WeightedSum(weights, apart...); err != nil {
		t.Fatal(err)
	}
	near(t, "u if the standards differed", uc, 0.32, 0.005, "JCGM 100:2008, 5.2.2 example")
}

// R and Z of H.2 share V, I and φ, which are correlated. Turned into three independent inputs (a root of the
// correlation matrix) their published correlation must come out.
func TestCovarianceOfResistanceAndImpedance(t *testing.T) {
	tab := gumTable(t)
	m, r := resistance(t, tab)
	joint, err := checkCorrelations(3, r[:])
	if err != nil {
		t.Fatal(err)
	}
	v, i, phi := m[0].Mean, m[1].Mean, m[2].Mean
	sin, cos := math.Sincos(phi)
	u := [3]float64{}
	for q, place := range joint.index {
		u[place] = m[q].U
	}
	turn := func(c [3]float64) (out []Shared) {
		for col := range 3 {
			sum := 0.0
			for rowOf, place := range joint.index {
				sum += c[place] * m[place].U * joint.root[rowOf][col]
			}
			out = append(out, Shared{"factor " + strconv.Itoa(col), sum, common})
		}
		return out
	}
	re := turn([3]float64{1000 * cos / i, -1000 * v * cos / (i * i), -1000 * v * sin / i})
	im := turn([3]float64{1000 / i, -1000 * v / (i * i), 0})
	ur, _, err := Average(re)
	if err != nil {
		t.Fatal(err)
	}
	uz, _, err := Average(im)
	if err != nil {
		t.Fatal(err)
	}
	cov, err := Covariance(re, im)
	if err != nil {
		t.Fatal(err)
	}
	tab.check(ur, "H.2", "u(R)")
	tab.check(uz, "H.2", "u(Z)")
	tab.check(cov/(ur*uz), "H.2", "r(R,Z)")
}

func someShared(t *rapid.T, label string) (out []Shared) {
	for i := range rapid.IntRange(0, 8).Draw(t, label+" inputs") {
		n := rapid.IntRange(0, 5).Draw(t, label+" name")
		s := Shared{"input " + strconv.Itoa(n), rapid.Float64Range(-10, 10).Draw(t, label+strconv.Itoa(i)), common}
		if n%2 == 1 {
			s.Input = own
		}
		out = append(out, s)
	}
	return out
}

// Var(a−b) = Var a + Var b − 2 Cov(a, b), and the same for the mean with a plus. Source: JCGM 100:2008, 5.2.2 eq. (13).
func TestDifferenceAndAverageAgreeWithCovariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := someShared(t, "a"), someShared(t, "b")
		must := func(uc, _ float64, err error) float64 {
			if err != nil {
				t.Fatal(err)
			}
			return uc * uc
		}
		va, vb := must(Average(a)), must(Average(b))
		cov, err := Covariance(a, b)
		if err != nil {
			t.Fatal(err)
		}
		back, err := Covariance(b, a)
		if err != nil || math.Abs(back-cov) > 1e-9 {
			t.Fatalf("covariance: got %v one way and %v, %v the other", cov, back, err)
		}
		if got, want := must(Difference(a, b)), va+vb-2*cov; math.Abs(got-want) > 1e-9 {
			t.Fatalf("difference: got variance %v, want %v", got, want)
		}
		if got, want := must(Average(a, b)), (va+vb+2*cov)/4; math.Abs(got-want) > 1e-9 {
			t.Fatalf("average: got variance %v, want %v", got, want)
		}
		if got := must(Difference(a, a)); allCommon(a) && got > 1e-24 { // round-off of sums in another order
			t.Fatalf("difference with itself: got variance %v, want 0", got)
		}
	})
}

func allCommon(s []Shared) bool {
	for _, c := range s {
		if c.Independent {
			return false
		}
	}
	return true
}

// An average over n readings: what errs anew falls with √n, what errs alike stays; degrees of freedom of a repeatability
// that was estimated once do not grow with n.
func TestAccumulatorAverages(t *testing.T) {
	const n, density, position = 400, 0.3, 2.0
	acc, err := NewAccumulator([]Input{{DOF: math.Inf(1)}, {Independent: true, DOF: 9}})
	if err != nil {
		t.Fatal(err)
	}
	for range n {
		if err := acc.Add(1, []float64{density, position, math.NaN()}); err != nil { // beyond the inputs: not looked at
			t.Fatal(err)
		}
	}
	uc, nu := acc.CombinedU(n)
	want := math.Hypot(density, position/20)
	near(t, "u of the average", uc, want, 1e-12, "JCGM 100:2008, 5.2.2 eq. (13): s/√n for the independent part")
	near(t, "ν of the average", nu, 9*math.Pow(want/(position/20), 4), 1e-6, "JCGM 100:2008, eq. (G.2b), one finite ν")

	acc.Reset()
	for _, w := range []float64{1, -1} {
		if err := acc.Add(w, []float64{density, position}); err != nil {
			t.Fatal(err)
		}
	}
	uc, nu = acc.CombinedU(1)
	near(t, "u of the difference", uc, position*math.Sqrt2, 1e-12, "what is shared cancels")
	near(t, "ν of the difference", nu, 9, 1e-9, "one input left")

	if err := acc.Add(1, []float64{1}); err == nil {
		t.Error("too few contributions: got no error")
	}
	if uc, _ := acc.CombinedU(0); !math.IsNaN(uc) {
		t.Errorf("divisor 0: got u_c %v, want NaN", uc)
	}
	if err := acc.Add(1, []float64{1, math.Inf(1)}); err != nil {
		t.Fatal(err)
	}
	if uc, _ := acc.CombinedU(1); !math.IsNaN(uc) {
		t.Errorf("infinite contribution: got u_c %v, want NaN", uc)
	}
	contrib := []float64{density, position}
	if got := testing.AllocsPerRun(100, func() { _ = acc.Add(1, contrib); acc.CombinedU(3) }); got != 0 {
		t.Errorf("got %v allocations, want 0", got)
	}
}

func TestSharedRefuses(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]func() error{
		"nothing to average":    func() error { _, _, err := Average(); return err },
		"weights missing":       func() error { _, _, err := WeightedSum([]float64{1}, nil, nil); return err },
		"weight not a number":   func() error { _, _, err := WeightedSum([]float64{nan}, nil); return err },
		"contribution nan":      func() error { _, _, err := Average([]Shared{{"g", nan, common}}); return err },
		"covariance nan":        func() error { _, err := Covariance([]Shared{{"g", nan, common}}, nil); return err },
		"ν not set":             func() error { _, _, err := Average([]Shared{{"g", 1, Input{}}}); return err },
		"accumulator, ν unset":  func() error { _, err := NewAccumulator([]Input{{}}); return err },
		"sum overflows float64": func() error { _, _, err := WeightedSum([]float64{1e200}, []Shared{{"g", 1e200, common}}); return err },
	} {
		var re *RangeError
		if err := f(); !errors.As(err, &re) {
			t.Errorf("%s: got %v, want a *RangeError", name, err)
		}
	}
	if _, _, err := Difference([]Shared{{"g", 1, common}}, []Shared{{"g", 1, own}}); err == nil {
		t.Error("one name, two ways: got no error, want a refusal")
	}
}
