package uncertainty

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestCoverageFactorsAgainstPublishedQuantiles(t *testing.T) {
	tab := gumTable(t)
	for _, c := range []struct {
		quantity string
		nu, p    float64
	}{
		{"k(df=16, p=0.95)", 16, 0.95}, {"k(df=16, p=0.9545)", 16, 0.9545}, {"k(df=16, p=0.99)", 16, 0.99},
		{"k(df=inf, p=0.9545)", math.Inf(1), 0.9545}, {"k(df=1, p=0.95)", 1, 0.95}, {"k(df=2, p=0.95)", 2, 0.95},
		{"k(df=3, p=0.9545)", 3, 0.9545}, {"k(df=5, p=0.95)", 5, 0.95}, {"k(df=9, p=0.95)", 9, 0.95},
		{"k(df=10, p=0.9545)", 10, 0.9545}, {"k(df=20, p=0.99)", 20, 0.99}, {"k(df=50, p=0.9545)", 50, 0.9545},
	} {
		tab.check(coverage(t, c.p).K(c.nu), "t factors", c.quantity)
	}
}

// From memory of the printed table; the rows above, the closed forms and the distribution below are the checks proper.
func TestCoverageFactorsAgainstTableG2(t *testing.T) {
	c := coverage(t, 0.9545)
	for nu, want := range map[float64]float64{1: 13.97, 2: 4.53, 3: 3.31, 4: 2.87, 5: 2.65, 6: 2.52, 7: 2.43, 8: 2.37, 9: 2.32, 10: 2.28, 20: 2.13} {
		near(t, "k", c.K(nu), want, 0.005, "JCGM 100:2008, table G.2, column 95,45, from memory")
	}
}

// For ν of 1, 2 and 4 the quantile of Student's distribution has a closed form.
// Source: Shaw, Journal of Computational Finance 9 (2006) 37, section 2.3.
func TestCoverageFactorsAgainstClosedForms(t *testing.T) {
	for _, p := range []float64{0.5, 0.6827, 0.95, DefaultP, 0.99, 0.9999} {
		c := coverage(t, p)
		nearRel(t, "ν = 1", c.K(1), math.Tan(math.Pi*p/2), 1e-8, "Cauchy quantile")
		nearRel(t, "ν = 2", c.K(2), p*math.Sqrt(2/(1-p*p)), 1e-8, "closed form")
		a := 1 - p*p
		q := math.Cos(math.Acos(math.Sqrt(a))/3) / math.Sqrt(a)
		nearRel(t, "ν = 4", c.K(4), 2*math.Sqrt(q-1), 1e-8, "closed form")
	}
}

func TestDefaultCoverageIsTwo(t *testing.T) {
	c := coverage(t, DefaultP)
	near(t, "k at infinite ν", c.K(math.Inf(1)), 2, 1e-14, "erf(√2) = 0.95449973610364…, JCGM 100:2008, table G.1")
	if got := distuv.UnitNormal.CDF(2) - distuv.UnitNormal.CDF(-2); math.Abs(got-DefaultP) > 1e-15 {
		t.Errorf("probability inside ±2: got %v, want %v (gonum normal distribution)", DefaultP, got)
	}
}

// The fraction of Student's distribution within ±k is what was asked for, whichever way k was found.
func TestCoverageFactorGivesItsProbability(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0.5, 0.9999).Draw(t, "p")
		c, err := NewCoverage(p)
		if err != nil {
			t.Fatal(err)
		}
		nu := rapid.OneOf(rapid.Float64Range(1, 3*tableDOF), rapid.Float64Range(1, 1e6)).Draw(t, "nu")
		k := c.K(nu)
		d := distuv.StudentsT{Sigma: 1, Nu: math.Floor(nu)}
		if got := d.CDF(k) - d.CDF(-k); math.Abs(got-p) > 1e-9 {
			t.Fatalf("ν = %v: got %v within ±%v, want %v ± 1e-9 (gonum Student's t)", nu, got, k, p)
		}
		if next := c.K(nu + 1); next > k+1e-9 || next < c.K(math.Inf(1))-1e-9 {
			t.Fatalf("k must fall with ν towards the normal factor: %v at %v, then %v", k, nu, next)
		}
	})
}

func TestCoverageRefuses(t *testing.T) {
	for _, p := range []float64{math.NaN(), 0, 0.49, 0.99995, 1, 95.45} {
		if c, err := NewCoverage(p); err == nil || c != nil {
			t.Errorf("p = %v: got %v, %v, want a refusal", p, c, err)
		}
	}
	c := coverage(t, DefaultP)
	for _, nu := range []float64{math.NaN(), 0, 0.5, -3, math.Inf(-1)} {
		if k := c.K(nu); !math.IsNaN(k) {
			t.Errorf("ν = %v: got k = %v, want NaN", nu, k)
		}
	}
	if k := new(Coverage).K(math.Inf(1)); !math.IsNaN(k) {
		t.Errorf("zero value: got k = %v, want NaN", k)
	}
}
