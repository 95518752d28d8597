package uncertainty

import (
	"fmt"
	"math"
)

// RangeError says that one number handed to this package is outside what is allowed. No value comes with it.
type RangeError struct {
	What    string  // what it is about, in words, with its unit where it has one of its own
	Seen    float64 // what was seen
	Allowed string  // what is allowed
}

// Error gives the refusal as one line.
func (e *RangeError) Error() string {
	return fmt.Sprintf("%s is %g; allowed: %s", e.What, e.Seen, e.Allowed)
}

// finite tells whether v is a number that can be computed with.
func finite(v float64) bool { return math.Abs(v) <= math.MaxFloat64 }

// checkFinite refuses what is not a finite number.
func checkFinite(what string, v float64) error {
	if !finite(v) {
		return &RangeError{What: what, Seen: v, Allowed: "a finite number"}
	}
	return nil
}

// checkU refuses what cannot be a standard uncertainty or a half-width.
func checkU(what string, u float64) error {
	if !finite(u) || u < 0 {
		return &RangeError{What: what, Seen: u, Allowed: "0 or more, finite"}
	}
	return nil
}

// checkDOF refuses what cannot be degrees of freedom. +Inf is allowed; below 1 no coverage factor exists.
func checkDOF(what string, dof float64) error {
	if !(dof >= 1) {
		return &RangeError{What: what, Seen: dof, Allowed: "1 or more, +Inf for an uncertainty known exactly"}
	}
	return nil
}

// checkLength refuses two lists that should be equally long and are not.
func checkLength(what string, got, want int) error {
	if got != want {
		return &RangeError{What: "number of " + what, Seen: float64(got), Allowed: fmt.Sprintf("%d", want)}
	}
	return nil
}
