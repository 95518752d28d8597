package geometry

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Each kind's closed form, as a person would write it, against the walk.
func TestClosedForms(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 0))
	in := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	for i := range 10000 {
		s := State{
			High: in(0, 0.4), Low: in(0, 0.4), Temperature: 293.15, Gravity: in(9.78, 9.83),
			Liquid: in(700, 13600), HighOver: in(1, 3), LowOver: in(1, 3),
		}
		check := func(kind string, m *TwoLimb, closed func(e *Eval) float64) {
			t.Helper()
			if err := m.Check(); err != nil {
				t.Fatal(err)
			}
			var e Eval
			m.Evaluate(&s, &e)
			w := m.Walk(&s, &e)
			got, want := closed(&e), w.Difference(s.Gravity)
			if math.Abs(got-want) > 1e-12*w.Largest(s.Gravity) {
				t.Fatalf("%s, case %d: got %v Pa, want %v Pa ± 1e-12 of the largest column", kind, i, got, want)
			}
		}

		u := UTube(in(0.003, 0.01), in(0.003, 0.01), in(0.4, 1), in(0.4, 1), true, true)
		check("u-tube", u, func(e *Eval) float64 { return ClosedUTube(u, &s, e) })

		r := Reservoir(in(0.05, math.Pi/2), in(0.002, 0.008), in(1e-4, 0.1), in(0.4, 1), in(0.4, 1))
		r.Tie.Low, r.Tie.Temperature = in(0, 0.1), 293.15
		check("inclined-reservoir", r, func(*Eval) float64 { return ClosedReservoir(r, &s, s.Low-r.Tie.Low) })

		p := LimbPair(
			Limb{Slope: in(0.1, math.Pi/2), BoreArea: BoreArea(in(0.003, 0.03)), ScaleZero: in(-0.1, 0.1), Tap: in(0.5, 1)},
			Limb{Digitized: true, Slope: in(0.1, math.Pi/2), BoreArea: BoreArea(in(0.003, 0.03)), ScaleZero: in(-0.1, 0.1), Tap: in(0.5, 1)},
			Tie{High: in(0, 0.4), Low: in(0, 0.4), Temperature: 293.15})
		check("limb-pair", p, func(*Eval) float64 { return ClosedLimbPair(p, &s, s.Low-p.Tie.Low) })

		v := InvertedUTube(in(0.003, 0.01), in(0.003, 0.01), in(-1, -0.4), in(-1, -0.4))
		line := s.HighOver
		s.LowOver = line
		check("inverted-u-tube", v, func(e *Eval) float64 { return ClosedInverted(v, &s, e) })

		// p = g h [ρ − ρ_c (1 − a/A) − ρ_line a/A], h less that at the zero, for which the plain walk is subtracted.
		w := TwoLiquid(0.005, in(0.02, 0.1), 1)
		w.Tie = Tie{High: in(0.1, 0.3), Low: in(0.1, 0.3), Temperature: 293.15}
		s.Line = in(1, 3)
		check("two-liquid", w, func(e *Eval) float64 {
			h0 := w.Tie.Low - w.Tie.High
			h, r := e.LowZ-e.HighZ-h0, w.Chambers.Ratio
			return s.Gravity * (h*(s.Liquid-s.HighOver*(1-r)-s.Line*r) + h0*(s.Liquid-s.HighOver))
		})

		// A dual slope by hand: 15° to 0.2 m, then upright.
		sin15 := math.Sin(15 * math.Pi / 180)
		bent, err := NewProfile([]float64{0, 0.2, 0.6}, []float64{0, 0.2 * sin15, 0.2*sin15 + 0.4})
		if err != nil {
			t.Fatal(err)
		}
		b := BentReservoir(bent, 0.004, in(1e-3, 0.1), 1, 1)
		b.Tie.Low, b.Tie.Temperature = in(0, 0.1), 293.15
		check("profile", b, func(*Eval) float64 {
			z := func(x float64) float64 { return math.Min(x, 0.2)*sin15 + math.Max(0, x-0.2) }
			moved, r := s.Low-b.Tie.Low, b.Low.BoreArea/b.High.BoreArea
			return s.Gravity * ((s.Liquid-s.LowOver)*(z(s.Low)-z(b.Tie.Low)) + (s.Liquid-s.HighOver)*moved*r)
		})
	}
}

// Symmetric limbs with level taps: swapping the positions flips the sign, equal positions give zero, and twice the
// height gives twice the pressure.
func TestSymmetry(t *testing.T) {
	rng := rand.New(rand.NewPCG(22, 0))
	m := UTube(0.006, 0.006, 0.5, 0.5, true, true)
	at := func(high, low float64) float64 {
		s := State{High: high, Low: low, Gravity: 9.80665, Liquid: 998.2, HighOver: 1.2, LowOver: 1.2, Temperature: 293.15}
		var e Eval
		m.Evaluate(&s, &e)
		return e.Pressure
	}
	for range 1000 {
		a, b := rng.Float64()*0.4, rng.Float64()*0.4
		tol := 1e-12 * 998.2 * 9.8
		if got, want := at(a, b), -at(b, a); math.Abs(got-want) > tol {
			t.Fatalf("swapped: got %v Pa, want %v Pa", got, want)
		}
		if got := at(a, a); math.Abs(got) > tol {
			t.Fatalf("equal limbs: got %v Pa, want 0", got)
		}
		if got, want := at(0.25-a, 0.25+a), 2*at(0.25-a/2, 0.25+a/2); math.Abs(got-want) > 2*tol {
			t.Fatalf("doubled head: got %v Pa, want %v Pa", got, want)
		}
	}
}

func TestCheckRefuses(t *testing.T) {
	ok := func() *TwoLimb { return Reservoir(0.2, 0.004, 0.01, 0.3, 0.3) }
	for name, spoil := range map[string]func(*TwoLimb){
		"slope 0":         func(m *TwoLimb) { m.Low.Slope = 0 },
		"slope above 90":  func(m *TwoLimb) { m.Low.Slope = 1.6 },
		"slope NaN":       func(m *TwoLimb) { m.Low.Slope = math.NaN() },
		"bore 0":          func(m *TwoLimb) { m.Low.BoreArea = 0 },
		"nothing read":    func(m *TwoLimb) { m.Low.Digitized = false },
		"infinite tap":    func(m *TwoLimb) { m.Low.Tap = math.Inf(1) },
		"NaN tilt across": func(m *TwoLimb) { m.CrossTilt = math.NaN() },
	} {
		m := ok()
		if err := m.Check(); err != nil {
			t.Fatal(err)
		}
		spoil(m)
		if m.Check() == nil {
			t.Errorf("%s: got no refusal", name)
		}
	}
}
