package fluid

import (
	"fmt"
	"math"
	"strconv"

	"manobridge/convert/quantity"
)

// RangeError says that a fluid was asked for a state its source does not vouch for. There is no value with it.
type RangeError struct {
	Fluid    string  // the fluid's name
	Quantity string  // what is out of range: "temperature", "pressure", "relative humidity"
	Unit     string  // of the three numbers below
	Seen     float64 // NaN where what came in was not a number
	Low      float64
	High     float64
	Source   string
}

// Error gives one line for the person at the bench.
func (e *RangeError) Error() string {
	unit := e.Unit
	if unit != "" {
		unit = " " + unit
	}
	seen := number(e.Seen) + unit
	if math.IsNaN(e.Seen) {
		seen = "not a number"
	}
	return fmt.Sprintf("%s of %s is %s; allowed: %s to %s%s (%s)",
		e.Quantity, e.Fluid, seen, number(e.Low), number(e.High), unit, e.Source)
}

// number prints v with at most seven digits, which hides the last bits of a conversion to and from kelvin.
func number(v float64) string {
	s, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 7, 64), 64)
	if err != nil {
		s = v
	}
	return strconv.FormatFloat(s, 'f', -1, 64)
}

// span is a range of temperatures, both ends included.
type span struct{ low, high quantity.Temperature }

// celsiusSpan makes a span from two temperatures in °C.
func celsiusSpan(low, high float64) span {
	return span{quantity.Celsius(low), quantity.Celsius(high)}
}

// has tells whether t lies in the span. NaN does not.
func (s span) has(t quantity.Temperature) bool { return t >= s.low && t <= s.high }

// refuse makes the error for a temperature outside the span.
func (s span) refuse(fluid, source string, t quantity.Temperature) *RangeError {
	return &RangeError{
		Fluid: fluid, Quantity: "temperature", Unit: "°C",
		Seen: t.Celsius(), Low: s.low.Celsius(), High: s.high.Celsius(), Source: source,
	}
}

// Uncertainty is a standard uncertainty that may have been left out. The zero value says it was; a stated 0 means the
// input is exact. Make one with Stated.
type Uncertainty struct {
	u       float64
	stated  bool
	assumed bool // u is a caller's default
}

// Stated makes a standard uncertainty the user gave, in the unit of its input.
func Stated(u float64) Uncertainty { return Uncertainty{u: u, stated: true} }

// Assumed makes one the user did not give: a default of the caller's, for want of which the fluid's own would apply.
func Assumed(u float64) Uncertainty { return Uncertainty{u: u, assumed: true} }

// or gives the stated uncertainty, or the default and true.
func (x Uncertainty) or(byDefault float64) (u float64, assumed bool) {
	if x.stated || x.assumed {
		return x.u, x.assumed
	}
	return byDefault, true
}

// ok refuses a stated uncertainty that is negative or not finite.
func (x Uncertainty) ok(what string) error {
	if x.u < 0 || !finite(x.u) {
		return fmt.Errorf("standard uncertainty of %s is %v; allowed: 0 or more", what, x.u)
	}
	return nil
}

// finite tells whether v is a number that can be computed with.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
