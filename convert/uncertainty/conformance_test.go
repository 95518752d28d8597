package uncertainty

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestConformance(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		name               string
		y, u, low, high, p float64
		tol                float64
		source             string
	}{
		{"on the limit", 12, 0.4, -inf, 12, 0.5, 1e-15, "symmetry"},
		{"one limit, 1.4 u inside", -5.47, 0.05, -inf, -5.40, 0.92, 0.005, "JCGM 106:2012, 7.3.3 example, from memory; Φ(1.4) = 0.91924 in any table"},
		{"inside by U at k = 2, one limit", 8, 1, -inf, 10, 0.97725, 5e-6, "Φ(2), Abramowitz and Stegun, table 26.1"},
		{"± 2 u", 0, 1, -2, 2, DefaultP, 1e-15, "JCGM 100:2008, table G.1: 95.45 %"},
		{"± 3 u", 0, 1, -3, 3, 0.9973, 5e-5, "JCGM 100:2008, table G.1: 99.73 %"},
		{"no limits", 3, 1, -inf, inf, 1, 0, "certainty"},
		{"exact, on the limit", 3, 0, 3, 4, 1, 0, "limits are inside"},
		{"exact, outside", 2.99, 0, 3, 4, 0, 0, "outside"},
		{"ten u outside, above", 20, 1, 0, 10, 7.6198530241605e-24, 1e-36, "1 − Φ(10), Abramowitz and Stegun, table 26.2: 7.61985·10⁻²⁴ (more digits from memory)"},
	} {
		p, err := Conformance(c.y, c.u, c.low, c.high)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name, p, c.p, c.tol, c.source)
		m, err := Conformance(-c.y, c.u, -c.high, -c.low)
		if err != nil || math.Abs(m-p) > 1e-15 {
			t.Errorf("%s, mirrored: got %v, %v, want %v", c.name, m, err, p)
		}
	}
}

func TestConformanceAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, u := rapid.Float64Range(-100, 100).Draw(t, "y"), rapid.Float64Range(0.01, 50).Draw(t, "u")
		low := rapid.Float64Range(-100, 100).Draw(t, "low")
		high := low + rapid.Float64Range(0, 100).Draw(t, "width")
		p, err := Conformance(y, u, low, high)
		if err != nil {
			t.Fatal(err)
		}
		d := distuv.Normal{Mu: y, Sigma: u}
		if want := d.CDF(high) - d.CDF(low); math.Abs(p-want) > 1e-12 {
			t.Fatalf("got %v, want %v (gonum normal distribution)", p, want)
		}
	})
}

func TestConformanceRefuses(t *testing.T) {
	nan := math.NaN()
	for _, c := range [][4]float64{{nan, 1, 0, 1}, {0, -1, 0, 1}, {0, nan, 0, 1}, {0, 1, 2, 1}, {0, 1, nan, 1}, {0, 1, 0, nan}} {
		_, err := Conformance(c[0], c[1], c[2], c[3])
		var re *RangeError
		if !errors.As(err, &re) {
			t.Errorf("%v: got %v, want a *RangeError", c, err)
		}
	}
}

func TestStatement(t *testing.T) {
	for _, c := range []struct {
		y, u float64
		want string
	}{
		{1490.0712, 3.2184, "1490.1 Pa ± 3.2 Pa (k = 2.00)"},
		{100.02147, 0.00079, "100.02147 Pa ± 0.00079 Pa (k = 2.00)"}, // JCGM 100:2008, 7.2.4: the mass m_S
		{10.05762, 0.027, "10.058 Pa ± 0.027 Pa (k = 2.00)"},         // JCGM 100:2008, 7.2.6: 10,057 62 Ω, u = 27 mΩ
		{0.123, 0.0996, "0.12 Pa ± 0.10 Pa (k = 2.00)"},
		{-0.001, 0.25, "0.00 Pa ± 0.25 Pa (k = 2.00)"},
		{101325, 3210, "101300 Pa ± 3200 Pa (k = 2.00)"},
		{99.96, 9.96, "100 Pa ± 10 Pa (k = 2.00)"},
		{12.5, 0, "12.5 Pa ± 0 Pa (k = 2.00)"},
		{math.NaN(), 1, "NaN Pa ± 1 Pa (k = 2.00)"},
	} {
		if got := Statement(c.y, c.u, 2, "Pa"); got != c.want {
			t.Errorf("got %q, want %q (JCGM 100:2008, 7.2.6)", got, c.want)
		}
	}
}
