package uncertainty

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The comparison standard of JCGM 100:2008, H.1: d is itself the sum of three, and the Welch-Satterthwaite sum of those
// is published to more places than the GUM prints.
func TestCombineGivesPublishedDegreesOfFreedom(t *testing.T) {
	tab := gumTable(t)
	uc, nu := Combine([]float64{5.8, 3.9, 6.7}, []float64{24, 5, 8})
	tab.check(nu, "Welch-Satterthwaite", "nu_eff of H.1 d from 5.8(24) 3.9(5) 6.7(8)")
	near(t, "u(d)", uc, tab.get("H.1", "u(d)"), 0.05, "JCGM 100:2008, H.1.3.2")
	// The GUM prints the degrees of freedom of d as 25.6, from u(d) rounded to 9.7.
	near(t, "ν(d)", nu, 25.6, 0.2, "JCGM 100:2008, H.1.3.2")
}

func TestCombineEdges(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name             string
		contrib, dof     []float64
		wantUc, wantDOF  float64
		tolUc            float64
		reasonItIsSoWant string
	}{
		{"nothing", nil, nil, 0, inf, 0, "an empty sum"},
		{"all zero", []float64{0, 0}, []float64{3, inf}, 0, inf, 0, "an empty sum"},
		{"no list of degrees of freedom", []float64{3, -4}, nil, 5, inf, 1e-15, "3-4-5 triangle"},
		{"all infinite", []float64{3, -4}, []float64{inf, inf}, 5, inf, 1e-15, "3-4-5 triangle"},
		{"one alone keeps its own", []float64{-7}, []float64{9}, 7, 9, 0, "one term"},
		{"two alike double", []float64{1, 1}, []float64{4, 4}, math.Sqrt2, 8, 1e-15, "(1+1)²/(1/4+1/4)"},
		{"zero with few degrees does not count", []float64{0, 2}, []float64{1, 30}, 2, 30, 0, "one term"},
		{"fourth powers beyond float64", []float64{1e200, 1e200}, []float64{4, 4}, math.Sqrt2 * 1e200, 8, 1e185, "scaling"},
		{"fourth powers below float64", []float64{1e-200, 1e-200}, []float64{4, 4}, math.Sqrt2 * 1e-200, 8, 1e-215, "scaling"},
		{"not a number", []float64{1, nan}, nil, nan, nan, 0, "refused"},
		{"infinite", []float64{1, -inf}, nil, nan, nan, 0, "refused"},
		{"unequal lists", []float64{1, 2}, []float64{4}, nan, nan, 0, "refused"},
		{"degrees of freedom not set", []float64{1, 2}, []float64{4, 0}, nan, nan, 0, "refused"},
		{"degrees of freedom not a number", []float64{1, 2}, []float64{4, nan}, nan, nan, 0, "refused"},
	} {
		t.Run(c.name, func(t *testing.T) {
			uc, nu := Combine(c.contrib, c.dof)
			same := func(got, want, tol float64) bool {
				return math.IsNaN(got) && math.IsNaN(want) || got == want || math.Abs(got-want) <= tol
			}
			if !same(uc, c.wantUc, c.tolUc) || !same(nu, c.wantDOF, 1e-9) {
				t.Errorf("got u_c %v and ν %v, want %v and %v (%s)", uc, nu, c.wantUc, c.wantDOF, c.reasonItIsSoWant)
			}
		})
	}
}

func TestTruncateDOF(t *testing.T) {
	for _, c := range [][2]float64{{16.7521, 16}, {16, 16}, {15.9999999999999, 16}, {15.999, 15}, {1, 1}, {0.9, 0}, {math.Inf(1), math.Inf(1)}} {
		if got := TruncateDOF(c[0]); got != c[1] {
			t.Errorf("%v: got %v, want %v (JCGM 100:2008, G.4.1 note 1: next lower integer)", c[0], got, c[1])
		}
	}
	if got := TruncateDOF(math.NaN()); !math.IsNaN(got) {
		t.Errorf("NaN: got %v, want NaN", got)
	}
}

// someContributions draws lists as a budget has them: any sign, some zero, degrees of freedom finite or not.
func someContributions(t *rapid.T) (contrib, dof []float64) {
	n := rapid.IntRange(1, 20).Draw(t, "inputs")
	one := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(-1e3, 1e3))
	nu := rapid.OneOf(rapid.Just(math.Inf(1)), rapid.Float64Range(1, 200))
	return rapid.SliceOfN(one, n, n).Draw(t, "contrib"), rapid.SliceOfN(nu, n, n).Draw(t, "dof")
}

func TestCombineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		contrib, dof := someContributions(t)
		uc, nu := Combine(contrib, dof)

		// ν_eff lies between the least ν_i and their sum: JCGM 100:2008, G.4.1 note (for the bound above).
		least, sum, reference := math.Inf(1), 0.0, 0.0
		for i, d := range contrib {
			reference = math.Hypot(reference, d)
			if d != 0 {
				least, sum = min(least, dof[i]), sum+dof[i]
			}
		}
		if math.Abs(uc-reference) > 1e-12*reference {
			t.Fatalf("u_c: got %v, want %v (repeated math.Hypot)", uc, reference)
		}
		if uc > 0 && (nu < least*(1-1e-12) || nu > sum*(1+1e-12)) {
			t.Fatalf("ν: got %v, want between %v and %v", nu, least, sum)
		}

		// More uncertainty in, never less out.
		i := rapid.IntRange(0, len(contrib)-1).Draw(t, "which")
		more := append([]float64(nil), contrib...)
		more[i] *= rapid.Float64Range(1, 10).Draw(t, "factor")
		if got, _ := Combine(more, dof); got < uc*(1-1e-15) {
			t.Fatalf("contribution %d raised from %v to %v lowered u_c from %v to %v", i, contrib[i], more[i], uc, got)
		}

		// Order does not matter.
		order := rapid.Permutation(indices(len(contrib))).Draw(t, "order")
		c2, d2 := make([]float64, len(contrib)), make([]float64, len(contrib))
		for to, from := range order {
			c2[to], d2[to] = contrib[from], dof[from]
		}
		uc2, nu2 := Combine(c2, d2)
		if math.Abs(uc2-uc) > 1e-13*uc || !(nu2 == nu || math.Abs(nu2-nu) <= 1e-12*nu) {
			t.Fatalf("reordered: got %v, %v, want %v, %v", uc2, nu2, uc, nu)
		}

		// Another unit scales u_c and leaves ν alone.
		s := rapid.Float64Range(1e-6, 1e6).Draw(t, "unit")
		for i := range c2 {
			c2[i] = -s * contrib[i]
		}
		uc3, nu3 := Combine(c2, dof)
		if math.Abs(uc3-s*uc) > 1e-12*s*uc || !(nu3 == nu || math.Abs(nu3-nu) <= 1e-9*nu) {
			t.Fatalf("scaled by %v: got %v, %v, want %v, %v", s, uc3, nu3, s*uc, nu)
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// oneReading is the size of a budget as it is combined for every reading.
func oneReading() (contrib, dof []float64) {
	for i := range 20 {
		contrib, dof = append(contrib, float64(i%7)-2.5), append(dof, math.Inf(1))
	}
	dof[3], dof[11] = 12, 40
	return contrib, dof
}

func TestOncePerReadingAllocatesNothing(t *testing.T) {
	contrib, dof := oneReading()
	c := coverage(t, DefaultP)
	var sink float64
	n := testing.AllocsPerRun(100, func() {
		uc, nu := Combine(contrib, dof)
		sink += c.K(nu)*uc + c.K(math.Inf(1)) + c.K(1234.5)
	})
	if n != 0 || !(sink > 0) {
		t.Errorf("got %v allocations (sum %v), want 0", n, sink)
	}
}

func BenchmarkOncePerReading(b *testing.B) {
	contrib, dof := oneReading()
	c := coverage(b, DefaultP)
	b.ReportAllocs()
	var sink float64
	for b.Loop() {
		uc, nu := Combine(contrib, dof)
		sink += c.K(nu) * uc
	}
	if !(sink > 0) {
		b.Fatal("no uncertainty")
	}
}
