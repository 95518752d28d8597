package quantity

import (
	"fmt"
	"math"
	"math/big"
	"sort"
	"strconv"
	"strings"
)

// Written is a quantity as a person wrote it: its value in the SI unit, and the unit it came in.
type Written struct {
	SI   float64 // in the coherent SI unit of the kind; for a pressure, Pa
	Unit string  // the symbol it was written with, in its first spelling
	// Assumption says what an unqualified unit was taken to mean, in words for a person; empty where nothing was assumed.
	// It must be shown wherever the value is used.
	Assumption string
}

// longest is how many bytes of text are looked at.
const longest = 512

// Parse reads a number with its unit: "120 Pa", "0.5inH2O", "-3.2e-1 mbar". No unit, no number: a bare number is refused, and
// the error lists the units accepted. The value is the nearest float64 to what was written, rounded once.
//
// The number has a decimal point, never a comma, and no marks between thousands.
func (k Kind) Parse(text string) (Written, error) {
	if len(text) > longest {
		return Written{}, fmt.Errorf("%s %q is longer than %d bytes", k, shorten(text), longest)
	}
	number, symbol, err := split(text)
	if err != nil {
		return Written{}, fmt.Errorf("%s %q %w", k, shorten(text), err)
	}
	if symbol == "" {
		return Written{}, fmt.Errorf("%s %q has no unit; accepted: %s", k, shorten(text), strings.Join(k.Units(), ", "))
	}
	u, err := k.find(symbol)
	if err != nil {
		return Written{}, fmt.Errorf("%s %q: %w", k, shorten(text), err)
	}
	si, _ := u.toSI(number).Float64()
	if math.IsInf(si, 0) || (si == 0 && number.Sign() != 0 && u.offset == "") {
		return Written{}, fmt.Errorf("%s %q is too large or too small to compute with", k, shorten(text))
	}
	w := Written{SI: si, Unit: u.symbol}
	if u.assumed != "" {
		w.Assumption = fmt.Sprintf("%s without a temperature is taken as that of %s: %s Pa", u.symbol, u.assumed, u.scale)
	}
	return w, nil
}

// split takes the number off the front of a text.
func split(text string) (number *big.Rat, symbol string, err error) {
	text = strings.TrimSpace(text)
	text = strings.Replace(text, "\u2212", "-", 1) // the minus sign of typography
	n := numberLength(text)
	digits, rest := text[:n], strings.TrimSpace(text[n:])
	if n == 0 {
		return nil, "", fmt.Errorf("does not begin with a number")
	}
	if strings.HasPrefix(rest, ",") {
		return nil, "", fmt.Errorf("has a comma in its number; write a decimal point, and nothing between thousands")
	}
	if _, exponent, found := strings.Cut(strings.ToLower(digits), "e"); found {
		if e, err := strconv.Atoi(exponent); err != nil || e < -400 || e > 400 {
			return nil, "", fmt.Errorf("is too large or too small to compute with")
		}
	}
	number, ok := new(big.Rat).SetString(digits)
	if !ok {
		return nil, "", fmt.Errorf("does not begin with a number")
	}
	return number, rest, nil
}

// numberLength counts the bytes at the front of text that are a decimal number: sign, digits, point, exponent. It is 0 where
// there are no digits.
func numberLength(text string) int {
	i := 0
	if i < len(text) && (text[i] == '+' || text[i] == '-') {
		i++
	}
	whole := digitsLength(text[i:])
	i += whole
	fraction := 0
	if i < len(text) && text[i] == '.' {
		if fraction = digitsLength(text[i+1:]); fraction > 0 {
			i += 1 + fraction
		}
	}
	if whole+fraction == 0 {
		return 0
	}
	if i < len(text) && (text[i] == 'e' || text[i] == 'E') {
		j := i + 1
		if j < len(text) && (text[j] == '+' || text[j] == '-') {
			j++
		}
		if d := digitsLength(text[j:]); d > 0 {
			i = j + d
		}
	}
	return i
}

// digitsLength counts the digits at the front of text.
func digitsLength(text string) int {
	n := 0
	for n < len(text) && text[n] >= '0' && text[n] <= '9' {
		n++
	}
	return n
}

// Format prints an SI value in a unit with the fewest digits from which Parse gives exactly this value back.
// A value that is not finite, or a unit that is not one of the kind, is an error.
func (k Kind) Format(si float64, symbol string) (string, error) {
	u, err := k.find(symbol)
	if err != nil {
		return "", fmt.Errorf("print a %s: %w", k, err)
	}
	exact := new(big.Rat).SetFloat64(si)
	if exact == nil {
		return "", fmt.Errorf("print a %s: it is not a finite number", k)
	}
	return shortest(u, exact, si) + " " + u.symbol, nil
}

// shortest finds the fewest digits of number from which toSI gives si back. A temperature close to absolute zero takes
// hundreds of them in °C, so the search goes there, after the usual two dozen.
func shortest(u unit, exact *big.Rat, si float64) string {
	number := u.fromSI(exact)
	for _, most := range []int{25, 420} {
		rounded := new(big.Float).SetPrec(uint(4 * most)).SetRat(number)
		// More digits are never further from the number, so the first that will do can be found by halving.
		digits := 1 + sort.Search(most, func(less int) bool {
			back, _ := u.toSI(decimal(rounded, 1+less)).Float64()
			return back == si
		})
		if digits <= most {
			return plainNotation(rounded.Text('e', digits-1))
		}
	}
	return plainNotation(new(big.Float).SetPrec(1680).SetRat(number).Text('e', 419))
}

// decimal is v rounded to so many significant digits.
func decimal(v *big.Float, digits int) *big.Rat { return rational(v.Text('e', digits-1)) }

// plainNotation turns 1.234e+02 into 123.4, unless that would be long.
func plainNotation(text string) string {
	v, ok := new(big.Rat).SetString(text)
	if !ok {
		return text
	}
	mantissa, exponent, _ := strings.Cut(text, "e")
	e, err := strconv.Atoi(exponent)
	if err != nil || e < -7 || e > 20 {
		return text
	}
	digits := len(strings.TrimLeft(strings.Replace(mantissa, ".", "", 1), "-"))
	return v.FloatString(max(digits-1-e, 0))
}

// DifferentialPressure gives a pressure that was written for a differential one.
func (w Written) DifferentialPressure() DifferentialPressure { return DifferentialPressure(w.SI) }

// AbsolutePressure gives a pressure that was written for an absolute one.
func (w Written) AbsolutePressure() AbsolutePressure { return AbsolutePressure(w.SI) }

// ParseDifferentialPressure reads a differential pressure of either sign. The result says what was assumed of a unit of
// column height without a temperature.
func ParseDifferentialPressure(text string) (Written, error) { return PressureKind.Parse(text) }

// ParseAbsolutePressure reads an absolute pressure, which is not negative.
func ParseAbsolutePressure(text string) (Written, error) {
	w, err := PressureKind.Parse(text)
	if err == nil && w.SI < 0 {
		return Written{}, fmt.Errorf("absolute pressure %q is below vacuum; allowed: 0 or more", shorten(text))
	}
	return w, err
}

// ParseLength reads a length with its unit.
func ParseLength(text string) (Length, error) { return parseAs[Length](LengthKind, text) }

// ParseTemperature reads a temperature with its unit.
func ParseTemperature(text string) (Temperature, error) {
	return parseAs[Temperature](TemperatureKind, text)
}

// ParseAngle reads an angle with its unit.
func ParseAngle(text string) (Angle, error) { return parseAs[Angle](AngleKind, text) }

// ParseDensity reads a density with its unit.
func ParseDensity(text string) (Density, error) { return parseAs[Density](DensityKind, text) }

// parseAs reads one of the types that need no assumption.
func parseAs[T ~float64](k Kind, text string) (T, error) {
	w, err := k.Parse(text)
	return T(w.SI), err
}
