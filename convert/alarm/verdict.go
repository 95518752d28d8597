package alarm

import (
	"fmt"
	"math"
)

// Verdict says where a value lies against a limit, its uncertainty considered.
type Verdict string

// The three, in our words.
const (
	Inside     Verdict = "inside"
	Outside    Verdict = "outside"
	CannotTell Verdict = "cannot-tell" // the limit lies within the expanded uncertainty of the value, or there is none
)

// Decision says which verdicts alarm.
type Decision string

// The decision rules. Source: JCGM 106:2012, 8.2 (simple acceptance), 8.3.2 (guarded acceptance, guard band toward the
// inside) and 8.3.3 (guarded rejection, guard band toward the outside), each with a guard band of U.
const (
	SimpleAcceptance  Decision = "simple-acceptance"  // alarms when the value is beyond the limit
	GuardedAcceptance Decision = "guarded-acceptance" // alarms unless the value is inside by more than U
	GuardedRejection  Decision = "guarded-rejection"  // alarms only when the value is outside by more than U
)

// Limits are the bounds of a quantity: a high one, a low one, or both, which is a window. The reversal of a sign is a limit
// of 0. Bounds, Deadband and values are in one unit, Pa or Pa/s.
type Limits struct {
	// Low and High are the bounds; -Inf and +Inf where there is none.
	Low, High float64
	// Deadband is how far inside the bound the deciding value must come before it counts as inside again. 0 or more, and
	// where there are two bounds less than half of what is between them.
	Deadband float64
	Decision Decision
}

// Check says what is wrong with the limits.
func (l Limits) Check() error {
	switch {
	case math.IsNaN(l.Low) || math.IsNaN(l.High) || math.IsInf(l.Low, 1) || math.IsInf(l.High, -1):
		return fmt.Errorf("a bound that is not a number")
	case math.IsInf(l.Low, -1) && math.IsInf(l.High, 1):
		return fmt.Errorf("a limit without a bound")
	case l.Low >= l.High:
		return fmt.Errorf("the low bound %g is not below the high bound %g", l.Low, l.High)
	case !(l.Deadband >= 0) || math.IsInf(l.Deadband, 1):
		return fmt.Errorf("a deadband of %g; allowed: 0 and up", l.Deadband)
	case 2*l.Deadband >= l.High-l.Low:
		return fmt.Errorf("a deadband of %g leaves no inside between %g and %g", l.Deadband, l.Low, l.High)
	}
	switch l.Decision {
	case SimpleAcceptance, GuardedAcceptance, GuardedRejection:
		return nil
	}
	return fmt.Errorf("a decision %q; allowed: %s, %s, %s", l.Decision, SimpleAcceptance, GuardedAcceptance, GuardedRejection)
}

// beyond is how far v is beyond the nearer bound; negative inside.
func (l Limits) beyond(v float64) float64 { return math.Max(v-l.High, l.Low-v) }

// Judge gives the verdict on a value with its expanded uncertainty U.
//
//	inside       beyond(v) + U ≤ 0
//	outside      beyond(v) − U > 0
//	cannot-tell  otherwise, and for a value or an uncertainty that is not a number
//
// A value on the bound conforms. Source: JCGM 106:2012, 8.3 with a guard band of U.
func (l Limits) Judge(v, u float64) Verdict {
	d := l.beyond(v)
	switch {
	case !usable(v, u):
		return CannotTell
	case d+u <= 0:
		return Inside
	case d-u > 0:
		return Outside
	}
	return CannotTell
}

// Condition tells whether the alarm's condition is there by the decision rule. was is what it was before: it goes only when
// the deciding value has come inside by the deadband. A value or an uncertainty that is not a number is unknown.
func (l Limits) Condition(v, u float64, was Condition) Condition {
	if !usable(v, u) {
		return Unknown
	}
	d := l.beyond(v)
	switch l.Decision {
	case GuardedAcceptance:
		d += u
	case GuardedRejection:
		d -= u
	}
	if d > 0 || was == Present && d > -l.Deadband {
		return Present
	}
	return Absent
}

func usable(v, u float64) bool {
	return !math.IsNaN(v) && !math.IsInf(v, 0) && u >= 0 && !math.IsInf(u, 1)
}
