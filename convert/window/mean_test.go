package window

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// ar1 makes n values of a first-order autoregressive noise of unit variance around a mean.
func ar1(r *rand.Rand, n int, phi, mean float64) []float64 {
	out := make([]float64, n)
	x := r.NormFloat64()
	for i := range out {
		out[i] = mean + x
		x = phi*x + math.Sqrt(1-phi*phi)*r.NormFloat64()
	}
	return out
}

func seriesOf(x []float64) *series {
	s := &series{}
	for _, v := range x {
		s.add(v)
	}
	return s
}

// The interval that the mean and its uncertainty give holds the true mean in 95 % of trials, independent values or alike
// ones, with windows of some tens of correlation times. The true uncertainty of the mean of such noise is σ√(τ/n) with
// τ = (1 + φ)/(1 − φ) (textbook result for a first-order process; from memory).
func TestUncertaintyOfTheMeanCovers(t *testing.T) {
	for _, c := range []struct {
		phi float64
		n   int
	}{{0, 20}, {0, 100}, {0, 1000}, {0.5, 100}, {0.5, 1000}, {0.9, 400}, {0.9, 1000}} {
		r := rand.New(rand.NewPCG(7, uint64(c.n)))
		const trials, truth = 1000, 123.4
		in, sum := 0, 0.0
		for range trials {
			s := seriesOf(ar1(r, c.n, c.phi, truth))
			u, dof := s.ofMean()
			sum += u
			k := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.975)
			if math.Abs(s.mean-truth) <= k*u {
				in++
			}
		}
		if got := float64(in) / trials; got < 0.93 || got > 0.99 {
			t.Errorf("φ %v, n %d: got coverage %.3f, want 0.93 to 0.99", c.phi, c.n, got)
		}
		want := math.Sqrt((1 + c.phi) / (1 - c.phi) / float64(c.n))
		if got := sum / trials; got < 0.97*want || got > 1.25*want {
			t.Errorf("φ %v, n %d: got a mean u of %.4f, want %.4f, up to a quarter more", c.phi, c.n, got, want)
		}
	}
}

// Two values by hand: 1 and 3 have s² = 2 and u = s/√2 = 1 with one degree of freedom (JCGM 100:2008, 4.2.2 and 4.2.3).
// Sixteen that alternate have u = s/√n = √(16/15)/4, and no less is made of their alternation.
func TestUncertaintyOfTheMeanByHand(t *testing.T) {
	if u, dof := seriesOf([]float64{1, 3}).ofMean(); math.Abs(u-1) > 1e-12 || dof != 1 {
		t.Errorf("got u %v with %v degrees of freedom, want 1 with 1", u, dof)
	}
	var x []float64
	for i := range 16 {
		x = append(x, float64(1-2*(i%2)))
	}
	want := math.Sqrt(16.0/15) / 4
	if u, dof := seriesOf(x).ofMean(); u < want-1e-12 || u > 1.1*want || dof > 15 || dof < 10 {
		t.Errorf("got u %v with %v degrees of freedom, want %v to a tenth more with up to 15", u, dof, want)
	}
	if u, dof := seriesOf([]float64{5}).ofMean(); u != 0 || dof != 0 {
		t.Errorf("one value: got u %v with %v degrees of freedom, want nothing told", u, dof)
	}
	if u, _ := seriesOf([]float64{5, 5, 5, 5}).ofMean(); u != 0 {
		t.Errorf("equal values: got u %v, want 0", u)
	}
}

func TestUncertaintyOfTheMeanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1, 1), 2, 400).Draw(t, "values")
		offset, by := rapid.Float64Range(-1000, 1000).Draw(t, "offset"), rapid.Float64Range(0.01, 100).Draw(t, "by")
		s := seriesOf(x)
		u, dof := s.ofMean()
		sum, moved := 0.0, &series{}
		for _, v := range x {
			sum += v
			moved.add(offset + by*v)
		}
		if want := sum / float64(len(x)); math.Abs(s.mean-want) > 1e-12 {
			t.Fatalf("got mean %v, want %v", s.mean, want)
		}
		if !(u >= 0) || math.IsInf(u, 0) || dof < 0 || dof > float64(len(x)) || len(s.full) > batches {
			t.Fatalf("got u %v, ν %v in %d batches", u, dof, len(s.full))
		}
		// The unit and the origin of the scale change nothing but the unit.
		if got, _ := moved.ofMean(); u > 1e-6 && math.Abs(got-by*u) > 1e-6*by*u {
			t.Fatalf("scaled by %v and moved by %v: got u %v, want %v", by, offset, got, by*u)
		}
	})
}
