package alarm

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var inf = math.Inf(1)

// conformance is the probability that the value is within one bound, for a normal distribution.
// Source: JCGM 106:2012, 7.3, equations for a single tolerance limit: p_c = Φ((T_U − y)/u).
func conformance(l Limits, y, u float64) float64 {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	return phi((l.High-y)/u) - phi((l.Low-y)/u)
}

func TestVerdictOnWorkedExamples(t *testing.T) {
	for _, c := range []struct {
		name   string
		l      Limits
		y, u   float64
		pc     float64 // as printed
		tol    float64 // half of the last printed digit
		want   Verdict // with U = 2u: inside from p_c = Φ(2) = 0.977
		source string
	}{
		{"zener diode", Limits{Low: -inf, High: -5.40}, -5.47, 0.05, 0.92, 0.005, CannotTell, "JCGM 106:2012, 7.4, example with an upper limit (from memory)"},
		{"metal container", Limits{Low: 490, High: inf}, 509.7, 8.6, 0.99, 0.005, Inside, "JCGM 106:2012, 7.4, example with a lower limit (from memory)"},
	} {
		if pc := conformance(c.l, c.y, c.u); math.Abs(pc-c.pc) > c.tol {
			t.Errorf("%s: got a conformance probability of %.4f, want %g ± %g (%s)", c.name, pc, c.pc, c.tol, c.source)
		}
		if got := c.l.Judge(c.y, 2*c.u); got != c.want {
			t.Errorf("%s: got %s, want %s (%s)", c.name, got, c.want, c.source)
		}
	}
}

// With one bound and U = 2u a verdict is a statement about the conformance probability: inside from Φ(2), outside below
// 1 − Φ(2). Source: JCGM 106:2012, 7.3 and 8.3.
func TestVerdictIsAProbability(t *testing.T) {
	sure := conformance(Limits{Low: -inf, High: 0}, -2, 1)
	rapid.Check(t, func(t *rapid.T) {
		l := Limits{Low: -inf, High: rapid.Float64Range(-50, 50).Draw(t, "bound")}
		if rapid.Bool().Draw(t, "low") {
			l = Limits{Low: l.High, High: inf}
		}
		y, u := rapid.Float64Range(-60, 60).Draw(t, "value"), rapid.Float64Range(0.01, 10).Draw(t, "u")
		pc := conformance(l, y, u)
		want := CannotTell
		switch {
		case math.Abs(pc-sure) < 1e-9 || math.Abs(pc-(1-sure)) < 1e-9:
			return // on the edge, rounding decides
		case pc > sure:
			want = Inside
		case pc < 1-sure:
			want = Outside
		}
		if got := l.Judge(y, 2*u); got != want {
			t.Errorf("got %s for %g ± %g against %g to %g with p_c = %g, want %s", got, y, 2*u, l.Low, l.High, pc, want)
		}
	})
}

func TestVerdictOnAWindow(t *testing.T) {
	// A negative room that must stay between 7.5 and 2.5 Pa below its surroundings: too negative fails too.
	room := Limits{Low: -7.5, High: -2.5}
	for _, c := range []struct {
		v, u float64
		want Verdict
	}{{-5, 1, Inside}, {-5, 2.5, Inside}, {-5, 2.6, CannotTell}, {-8, 0.4, Outside}, {-8, 0.6, CannotTell}, {-2, 0.4, Outside},
		{-2.5, 0, Inside}, {math.NaN(), 1, CannotTell}, {-5, math.NaN(), CannotTell}, {-5, inf, CannotTell}} {
		if got := room.Judge(c.v, c.u); got != c.want {
			t.Errorf("got %s for %g ± %g, want %s (worked by hand)", got, c.v, c.u, c.want)
		}
	}
}

// Source of the rules: JCGM 106:2012, 8.2, 8.3.2, 8.3.3. The deadband counts from the bound by the same deciding value.
func TestDecisionAndDeadband(t *testing.T) {
	for _, c := range []struct {
		d    Decision
		v    float64
		was  Condition
		want Condition
	}{
		{SimpleAcceptance, 10.1, Absent, Present}, {SimpleAcceptance, 10, Absent, Absent}, {SimpleAcceptance, 9.6, Present, Present},
		{SimpleAcceptance, 9.5, Present, Absent}, {SimpleAcceptance, 9.6, Unknown, Absent},
		{GuardedAcceptance, 9.1, Absent, Present}, {GuardedAcceptance, 9, Absent, Absent}, {GuardedAcceptance, 8.6, Present, Present}, {GuardedAcceptance, 8.5, Present, Absent},
		{GuardedRejection, 11, Absent, Absent}, {GuardedRejection, 11.1, Absent, Present}, {GuardedRejection, 10.6, Present, Present}, {GuardedRejection, 10.5, Present, Absent},
		{SimpleAcceptance, math.NaN(), Present, Unknown},
	} {
		l := Limits{Low: -inf, High: 10, Deadband: 0.5, Decision: c.d}
		if got := l.Condition(c.v, 1, c.was); got != c.want {
			t.Errorf("%s: got %s for %g ± 1 against 10 after %s, want %s (worked by hand)", c.d, got, c.v, c.was, c.want)
		}
	}
	if (Limits{Low: -inf, High: 10}).Condition(9, inf, Absent) != Unknown {
		t.Error("a value of no known uncertainty was decided on")
	}
}

func TestLimitsRefuse(t *testing.T) {
	good := Limits{Low: 0, High: 10, Decision: SimpleAcceptance, Deadband: 1}
	if err := good.Check(); err != nil {
		t.Errorf("got %v, want sound limits taken", err)
	}
	for _, l := range []Limits{{}, {Low: -inf, High: inf, Decision: SimpleAcceptance}, {Low: 3, High: 2, Decision: SimpleAcceptance},
		{Low: 0, High: 10, Deadband: 5, Decision: SimpleAcceptance}, {Low: 0, High: 10, Deadband: -1, Decision: SimpleAcceptance},
		{Low: 0, High: 10}, {Low: math.NaN(), High: 1, Decision: SimpleAcceptance}} {
		if l.Check() == nil {
			t.Errorf("%+v was taken", l)
		}
	}
}
