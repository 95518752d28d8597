package uncertainty

import (
	"errors"
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// strd reads one of the NIST Statistical Reference Datasets, column by column.
func strd(t testing.TB, name string, columns ...string) [][]float64 {
	t.Helper()
	out := make([][]float64, len(columns))
	for _, r := range readCSV(t, name) {
		for i, c := range columns {
			out[i] = append(out[i], row{value: r[c]}.number(t))
		}
	}
	return out
}

// certified compares with the certificate: relative tolerances.
func certified(t *testing.T, dataset string, got map[string]float64) {
	t.Helper()
	tab := readTable(t, "strd_certified.csv", [2]string{"dataset", "quantity"}, "certified_value", "suggested_relative_tolerance")
	for quantity, v := range got {
		r := tab.row(dataset, quantity)
		nearRel(t, dataset+" "+quantity, v, r.number(t), r.tol, r.source)
	}
}

func TestNorris(t *testing.T) {
	d := strd(t, "strd_norris.csv", "x_predictor", "y_response")
	l := fit(t)(FitLine(d[0], d[1]))
	certified(t, "Norris", map[string]float64{
		"B0 intercept": l.Intercept, "B1 slope": l.Slope,
		"standard deviation of B0": l.UIntercept, "standard deviation of B1": l.USlope,
		"residual standard deviation": l.ResidualSD, "residual sum of squares": l.ResidualSS,
		"residual degrees of freedom": l.DOF(), "covariance of B0 and B1": l.Covariance,
	})
}

func TestPontius(t *testing.T) {
	d := strd(t, "strd_pontius.csv", "x_load", "y_deflection")
	p, err := FitPolynomial(d[0], d[1], nil, 2, ResidualScaled)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{
		"residual standard deviation": p.ResidualSD, "residual sum of squares": p.ResidualSS, "residual degrees of freedom": p.DOF(),
	}
	for i := range 3 {
		got["B"+strconv.Itoa(i)] = p.Coefficients[i]
		got["standard deviation of B"+strconv.Itoa(i)] = p.U(i)
	}
	certified(t, "Pontius", got)

	// At the ends and between, the curve is that of the certified coefficients.
	for _, x := range []float64{p.Low, 1.23e6, p.High} {
		y, u, err := p.At(x)
		if err != nil {
			t.Fatal(err)
		}
		nearRel(t, "curve", y, 0.000673565789473684+x*(7.32059160401003e-07-x*3.16081871345029e-15), 1e-11, "NIST StRD, Pontius")
		if !(u > 0 && u < p.ResidualSD) {
			t.Errorf("u of the curve at %v: got %v, want between 0 and the scatter %v", x, u, p.ResidualSD)
		}
	}
	if p.Low != 150000 || p.High != 3000000 {
		t.Errorf("got range %v to %v, want 150000 to 3000000", p.Low, p.High)
	}
	for _, x := range []float64{149999, 3000001, math.NaN(), math.Inf(1)} {
		if y, _, err := p.At(x); err == nil {
			t.Errorf("at %v: got %v, want a refusal", x, y)
		}
	}
}

func TestLongley(t *testing.T) {
	d := strd(t, "strd_longley.csv", "x1", "x2", "x3", "x4", "x5", "x6", "y_response")
	r, err := FitLinear(d[:6], d[6], nil, ResidualScaled)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{"residual standard deviation": r.ResidualSD}
	for i := range 7 {
		got["B"+strconv.Itoa(i)] = r.Coefficients[i]
		got["standard deviation of B"+strconv.Itoa(i)] = r.U(i)
	}
	certified(t, "Longley", got)
}

// Points that lie on a polynomial give it back, far from zero too, and the residuals say so.
func TestPolynomialGivesItselfBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		degree := rapid.IntRange(1, MaxDegree).Draw(t, "degree")
		c := rapid.SliceOfN(rapid.Float64Range(-2, 2), degree+1, degree+1).Draw(t, "coefficients")
		offset := rapid.Float64Range(-100, 100).Draw(t, "offset")
		at := func(x float64) (y float64) {
			for j := degree; j >= 0; j-- {
				y = y*(x-offset) + c[j]
			}
			return y
		}
		var x, y, u []float64
		for i := range degree + 4 {
			x = append(x, offset+float64(i)/4)
			y = append(y, at(x[i]))
			u = append(u, rapid.Float64Range(0.5, 2).Draw(t, "u"))
		}
		p, err := FitPolynomial(x, y, u, degree, APriori)
		if err != nil {
			t.Fatal(err)
		}
		where := offset + rapid.Float64Range(0, float64(degree+3)/4).Draw(t, "where")
		got, _, err := p.At(min(max(where, p.Low), p.High))
		if err != nil {
			t.Fatal(err)
		}
		if want := at(where); math.Abs(got-want) > 1e-8*(1+math.Abs(want)) {
			t.Fatalf("degree %d at %v: got %v, want %v", degree, where, got, want)
		}
		// The variance of the curve summed over its points, in units of theirs, is the number of coefficients: the trace
		// of a projection.
		sum := 0.0
		for i := range x {
			_, ui, err := p.At(x[i])
			if err != nil {
				t.Fatal(err)
			}
			sum += ui * ui / (u[i] * u[i])
		}
		if math.Abs(sum-float64(degree+1)) > 1e-7 {
			t.Fatalf("sum of relative variances: got %v, want %d", sum, degree+1)
		}
	})
}

func TestRegressionRefuses(t *testing.T) {
	x, y := []float64{1, 2, 3, 4, 5}, []float64{1, 4, 9, 16, 25}
	twice := []float64{2, 4, 6, 8, 10}
	for name, f := range map[string]func() error{
		"degree zero":     func() error { _, err := FitPolynomial(x, y, nil, 0, ResidualScaled); return err },
		"degree too high": func() error { _, err := FitPolynomial(x, y, nil, MaxDegree+1, ResidualScaled); return err },
		"too few points":  func() error { _, err := FitPolynomial(x, y, nil, 4, ResidualScaled); return err },
		"too few different x": func() error {
			_, err := FitPolynomial([]float64{1, 1, 2, 2, 2}, y, nil, 2, ResidualScaled)
			return err
		},
		"columns alike":        func() error { _, err := FitLinear([][]float64{x, twice}, y, nil, ResidualScaled); return err },
		"column does not vary": func() error { _, err := FitLinear([][]float64{{3, 3, 3, 3, 3}}, y, nil, ResidualScaled); return err },
		"column short":         func() error { _, err := FitLinear([][]float64{x[:4]}, y, nil, ResidualScaled); return err },
		"y not finite": func() error {
			_, err := FitLinear([][]float64{x}, []float64{1, 2, 3, 4, math.Inf(1)}, nil, ResidualScaled)
			return err
		},
	} {
		var re *RangeError
		if err := f(); !errors.As(err, &re) {
			t.Errorf("%s: got %v, want a *RangeError", name, err)
		}
	}
	if _, err := FitLinear([][]float64{x}, y, nil, APriori); err == nil {
		t.Error("a priori without uncertainties: got no error, want a refusal")
	}
}
