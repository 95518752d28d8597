package uncertainty

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func TestHalfWidths(t *testing.T) {
	const a = 0.7
	near(t, "rectangular", RectangularU(a), distuv.Uniform{Min: -a, Max: a}.StdDev(), 1e-15, "gonum uniform distribution")
	near(t, "triangular", TriangularU(a), distuv.NewTriangle(-a, a, 0, nil).StdDev(), 1e-15, "gonum triangular distribution")
	// The arcsine distribution is the beta distribution of parameters ½, ½, stretched to 2a.
	near(t, "arcsine", ArcsineU(a), 2*a*distuv.Beta{Alpha: 0.5, Beta: 0.5}.StdDev(), 1e-15, "gonum beta distribution")
	near(t, "resolution", ResolutionU(2*a), RectangularU(a), 1e-15, "JCGM 100:2008, F.2.2.1: half a step each way")

	tab := gumTable(t)
	near(t, "u(alpha_s)", RectangularU(2e-6), tab.get("H.1", "u(alpha_s)"), 0.5e-7, "JCGM 100:2008, H.1.3.3")
	near(t, "u(delta_theta)", RectangularU(0.05), tab.get("H.1", "u(delta_theta)"), 0.5e-3, "JCGM 100:2008, H.1.3.6")
	near(t, "u(theta)", math.Hypot(0.2, ArcsineU(0.5)), tab.get("H.1", "u(theta)"), 0.5e-2, "JCGM 100:2008, H.1.3.4")
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1)} {
		for _, got := range []float64{RectangularU(bad), TriangularU(bad), ArcsineU(bad), ResolutionU(bad)} {
			if !math.IsNaN(got) {
				t.Errorf("half-width %v: got %v, want NaN", bad, got)
			}
		}
	}
}

func TestMeanAgainstLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1e3, 1e3), 2, 40).Draw(t, "x")
		s, err := Mean(x)
		if err != nil {
			t.Fatal(err)
		}
		mean, sd := stat.MeanStdDev(x, nil)
		n := float64(len(x))
		if math.Abs(s.Mean-mean) > 1e-10 || math.Abs(s.S-sd) > 1e-9 || math.Abs(s.U-sd/math.Sqrt(n)) > 1e-9 || s.DOF != n-1 || s.N != len(x) {
			t.Fatalf("got %+v, want mean %v, s %v, ν %v (gonum stat)", s, mean, sd, n-1)
		}
	})
}

// A spread of one part in 10⁹ on a large value: naive sums of squares lose it.
func TestMeanKeepsSmallSpread(t *testing.T) {
	s, err := Mean([]float64{1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", s.Mean, 1e9+10, 0, "by hand")
	near(t, "s", s.S, math.Sqrt(30), 1e-12, "by hand: (36+9+9+36)/3")
}

func TestReliabilityDOF(t *testing.T) {
	for _, c := range [][2]float64{{0.25, 8}, {0.10, 50}, {0.50, 2}} {
		got, err := ReliabilityDOF(c[0])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "ν", got, c[1], 1e-9, "JCGM 100:2008, G.4.2 example (0.25) and H.1.6 (0.10, 0.50)")
	}
}

func TestTypeARefuses(t *testing.T) {
	nan := math.NaN()
	for name, f := range map[string]func() error{
		"no observation":        func() error { _, err := Mean(nil); return err },
		"one observation":       func() error { _, err := Mean([]float64{3}); return err },
		"not a number":          func() error { _, err := Mean([]float64{3, nan}); return err },
		"spread overflows":      func() error { _, err := Mean([]float64{-1e308, 1e308}); return err },
		"unpaired":              func() error { _, err := CorrelationOfMeans([]float64{1, 2}, []float64{1}); return err },
		"one pair":              func() error { _, err := CorrelationOfMeans([]float64{1}, []float64{1}); return err },
		"pair does not vary":    func() error { _, err := CorrelationOfMeans([]float64{1, 2}, []float64{1, 1}); return err },
		"reliability zero":      func() error { _, err := ReliabilityDOF(0); return err },
		"reliability too large": func() error { _, err := ReliabilityDOF(0.8); return err },
		"reliability nan":       func() error { _, err := ReliabilityDOF(nan); return err },
		"second order, lengths": func() error { _, err := SecondOrderVariance([]float64{1}, nil, nil, nil); return err },
		"second order, ragged": func() error {
			_, err := SecondOrderVariance([]float64{1}, []float64{1}, [][]float64{{}}, nil)
			return err
		},
		"second order, third": func() error {
			_, err := SecondOrderVariance([]float64{1}, []float64{1}, [][]float64{{1}}, [][]float64{})
			return err
		},
		"second order, u": func() error {
			_, err := SecondOrderVariance([]float64{-1}, []float64{1}, [][]float64{{1}}, nil)
			return err
		},
	} {
		var re *RangeError
		if err := f(); !errors.As(err, &re) {
			t.Errorf("%s: got %v, want a *RangeError", name, err)
		}
	}
}
