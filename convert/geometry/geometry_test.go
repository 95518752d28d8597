package geometry

import (
	"math"
	"math/rand/v2"
	"testing"
)

// randomCase draws a two-limb instrument and a state inside what can be built.
func randomCase(rng *rand.Rand) (*TwoLimb, State) {
	in := func(lo, hi float64) float64 { return lo + rng.Float64()*(hi-lo) }
	m := &TwoLimb{
		High: Limb{Slope: in(0.1, math.Pi/2), BoreArea: BoreArea(in(0.003, 0.08)), ScaleZero: in(-0.1, 0.1), Tap: in(0.5, 1)},
		Low:  Limb{Slope: in(0.1, math.Pi/2), BoreArea: BoreArea(in(0.003, 0.08)), ScaleZero: in(-0.1, 0.1), Tap: in(0.5, 1)},
		Tie:  Tie{High: in(0.1, 0.3), Low: in(0.1, 0.3), Temperature: in(285, 300), Level: rng.IntN(3) == 0},
	}
	switch rng.IntN(3) {
	case 0:
		m.High.Digitized = true
	case 1:
		m.Low.Digitized = true
	default:
		m.High.Digitized, m.Low.Digitized = true, true
	}
	if rng.IntN(2) == 0 {
		m.ScaleExpansion, m.ScaleReference = in(0, 1e-4), in(285, 300)
		m.CrossTilt = in(-0.05, 0.05)
		m.ChargeVolume, m.BodyExpansion = in(1e-5, 1e-4), in(0, 1e-4)
		m.Low.ZeroDistance = in(-0.3, 0.3)
	}
	switch rng.IntN(4) {
	case 0:
		p, err := NewProfile([]float64{-0.5, 0.2, 0.3, 1}, []float64{-0.2, -0.05, 0.04, 0.6})
		if err != nil {
			panic(err)
		}
		m.Low.Profile = p
	case 1:
		if m.High.Digitized && m.Low.Digitized {
			m.Chambers = Chambers{Ratio: in(0.001, 0.1), Level: 0.45}
		}
	}
	s := State{
		Line: in(1, 900),
		High: in(0.1, 0.4), Low: in(0.1, 0.4), Temperature: in(285, 305), Gravity: in(9.78, 9.83),
		Liquid: in(700, 1200), HighOver: in(1, 900), LowOver: in(1, 900), TieLiquid: in(700, 1200), Tilt: in(-0.05, 0.05),
	}
	if m.Chambers.Ratio != 0 { // one liquid in both chambers, under level taps
		s.LowOver = s.HighOver
		m.Low.Tap = m.High.Tap
		m.Low.ZeroDistance = 0
	}
	return m, s
}

// The walk is summed column by column from the menisci; Evaluate uses the expanded form.
func TestEvaluateEqualsWalk(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 0))
	for i := range 10000 {
		m, s := randomCase(rng)
		var e Eval
		m.Evaluate(&s, &e)
		w := m.Walk(&s, &e)
		if got, want := e.Pressure, w.Difference(s.Gravity); math.Abs(got-want) > 1e-12*w.Largest(s.Gravity) {
			t.Fatalf("case %d: got %v Pa, want %v Pa ± 1e-12 of the largest column", i, got, want)
		}
	}
}

// Every partial derivative against a central difference of the pressure itself.
func TestGradientEqualsCentralDifference(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 0))
	for i := range 2000 {
		m, s := randomCase(rng)
		var e Eval
		m.Evaluate(&s, &e)
		for v := range NumVars {
			x, step := variable(m, &s, v)
			if x == nil {
				continue
			}
			had := *x
			var up, down Eval
			*x = had + step
			m.Evaluate(&s, &up)
			*x = had - step
			m.Evaluate(&s, &down)
			*x = had
			if p := m.Low.Profile; p != nil && !samePiece(p, up.LowX, down.LowX) || v == TieLowPosition && p != nil {
				continue // a corner of the tube between the two: there is no one derivative
			}
			want := (up.Pressure - down.Pressure) / (2 * step)
			// Rounding of the difference: pressures of 1e4 Pa carry 1e-12 of themselves.
			tol := 1e-6*math.Abs(want) + 1e-7 + 4e-12*math.Abs(e.Pressure)/step
			if got := e.Grad[v]; math.Abs(got-want) > tol {
				t.Fatalf("case %d, %v: got %v, want %v ± %v (central difference)", i, v, got, want, tol)
			}
		}
	}
}

func samePiece(p *Profile, a, b float64) bool {
	i, _ := p.piece(a)
	j, _ := p.piece(b)
	return i == j
}

// variable points at what v stands for, with a step for the difference; nil where a change of bore area stands for it.
func variable(m *TwoLimb, s *State, v Var) (*float64, float64) {
	switch v {
	case HighPosition:
		return &s.High, 1e-4
	case LowPosition:
		return &s.Low, 1e-4
	case TieHighPosition:
		if m.Tie.Level && m.Low.Digitized {
			return nil, 0
		}
		return &m.Tie.High, 1e-4
	case TieLowPosition:
		if m.Tie.Level && m.High.Digitized {
			return nil, 0
		}
		return &m.Tie.Low, 1e-4
	case HighSlope:
		return &m.High.Slope, 1e-5
	case LowSlope:
		if m.Low.Profile != nil {
			return nil, 0
		}
		return &m.Low.Slope, 1e-5
	case HighScaleZero, LowScaleZero:
		if m.Tie.Level && m.follows() {
			return nil, 0
		}
		if v == HighScaleZero {
			return &m.High.ScaleZero, 1e-4
		}
		return &m.Low.ScaleZero, 1e-4
	case HighTap:
		return &m.High.Tap, 1e-4
	case LowTap:
		return &m.Low.Tap, 1e-4
	case Gravity:
		return &s.Gravity, 1e-4
	case LiquidDensity:
		return &s.Liquid, 1e-2
	case HighOverDensity:
		return &s.HighOver, 1e-2
	case LowOverDensity:
		return &s.LowOver, 1e-2
	case TieLiquidDensity:
		return &s.TieLiquid, 1e-2
	case Temperature:
		return &s.Temperature, 1e-2
	case TieTemperature:
		return &m.Tie.Temperature, 1e-2
	case ScaleExpansion:
		return &m.ScaleExpansion, 1e-6
	case Tilt:
		return &s.Tilt, 1e-5
	case CrossTilt:
		return &m.CrossTilt, 1e-5
	case ChargeVolume:
		if m.ChargeVolume == 0 {
			return nil, 0 // 0 leaves the effect out
		}
		return &m.ChargeVolume, 1e-8
	case BodyExpansion:
		return &m.BodyExpansion, 1e-7
	case LineDensity:
		return &s.Line, 1e-2
	case ChamberRatio:
		if m.Chambers.Ratio == 0 {
			return nil, 0
		}
		return &m.Chambers.Ratio, 1e-6
	}
	return nil, 0
}

// The area ratio is not a field: shrinking the digitized limb's bore alone changes it, with no charge in play.
func TestAreaRatioGradient(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 0))
	for i := range 2000 {
		m, s := randomCase(rng)
		if !m.follows() {
			continue
		}
		m.ChargeVolume = 0
		read, other := &m.Low, &m.High
		if m.High.Digitized {
			read, other = &m.High, &m.Low
		}
		var e, up, down Eval
		m.Evaluate(&s, &e)
		q := read.BoreArea / other.BoreArea
		step := 1e-4 * q
		had := read.BoreArea
		read.BoreArea = (q + step) * other.BoreArea
		m.Evaluate(&s, &up)
		read.BoreArea = (q - step) * other.BoreArea
		m.Evaluate(&s, &down)
		read.BoreArea = had
		want := (up.Pressure - down.Pressure) / (2 * step)
		tol := 1e-6*math.Abs(want) + 4e-12*math.Abs(e.Pressure)/step
		if got := e.Grad[AreaRatio]; math.Abs(got-want) > tol {
			t.Fatalf("case %d: got %v, want %v ± %v", i, got, want, tol)
		}
	}
}
