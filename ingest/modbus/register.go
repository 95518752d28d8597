package modbus

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"strings"
)

// Types gives the types a register value may have.
func Types() []string { return []string{"int16", "uint16", "int32", "uint32", "float32"} }

// Register is one value: where it stands and what it means.
type Register struct {
	Function Function
	At       uint16 // of the first register, as on the line, from 0
	Type     string // one of Types
	// Order of the bytes of a value of two registers, A the most significant: ABCD, CDAB, BADC or DCBA. The standard names
	// none, and makers differ. Empty for one register, which is AB always.
	Order string
	// Scale and Offset make the value: number × Scale + Offset.
	Scale, Offset float64
	// NoValue are what stands for "no value": the bytes as sent, in hexadecimal digits, as 8000.
	NoValue []string
}

// Words is how many registers the value takes.
func (r Register) Words() int {
	if strings.HasSuffix(r.Type, "32") {
		return 2
	}
	return 1
}

// Validate says everything that is wrong with the register.
func (r Register) Validate() error {
	var problems []error
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	known := false
	for _, t := range Types() {
		known = known || t == r.Type
	}
	if !known {
		bad("type %q is not %s", r.Type, strings.Join(Types(), ", "))
	}
	if r.Function != ReadHolding && r.Function != ReadInput {
		bad("function %d is neither 3 nor 4", r.Function)
	}
	if int(r.At)+r.Words() > 0x10000 {
		bad("register %d has no second one behind it", r.At)
	}
	if _, ok := orders[r.Order]; r.Words() == 2 && !ok {
		bad("order %q is not ABCD, CDAB, BADC or DCBA", r.Order)
	}
	if r.Words() == 1 && r.Order != "" {
		bad("order %q has no meaning for one register", r.Order)
	}
	if r.Scale == 0 || !finite(r.Scale) || !finite(r.Offset) {
		bad("scale %v or offset %v is not a number to calculate with", r.Scale, r.Offset)
	}
	for _, text := range r.NoValue {
		if b, err := hex.DecodeString(text); err != nil || len(b) != 2*r.Words() {
			bad("no_value %q is not %d bytes in hexadecimal digits", text, 2*r.Words())
		}
	}
	return errors.Join(problems...)
}

// orders says where the most significant byte and those after it stand.
var orders = map[string][4]int{"ABCD": {0, 1, 2, 3}, "CDAB": {2, 3, 0, 1}, "BADC": {1, 0, 3, 2}, "DCBA": {3, 2, 1, 0}}

// NoValueError is what Value fails with where the instrument has no value to give.
type NoValueError struct{ Seen string }

// Error says what was seen.
func (e *NoValueError) Error() string { return e.Seen }

// Value reads the bytes of the register's words, as sent. A code for "no value", NaN and infinity give a *NoValueError,
// never a number. The register must be valid, and data 2·Words() bytes.
func (r Register) Value(data []byte) (float64, error) {
	if len(data) != 2*r.Words() {
		return 0, &NoValueError{fmt.Sprintf("%d bytes instead of %d", len(data), 2*r.Words())}
	}
	for _, text := range r.NoValue {
		if b, err := hex.DecodeString(text); err == nil && bytes.Equal(b, data) {
			return 0, &NoValueError{fmt.Sprintf("%X, which stands for no value", data)}
		}
	}
	var whole uint32
	if len(data) == 2 {
		whole = uint32(data[0])<<8 | uint32(data[1])
	} else {
		for _, i := range orders[r.Order] {
			whole = whole<<8 | uint32(data[i])
		}
	}
	var v float64
	switch r.Type {
	case "int16":
		v = float64(int16(whole))
	case "int32":
		v = float64(int32(whole))
	case "float32":
		v = float64(math.Float32frombits(whole))
	default:
		v = float64(whole)
	}
	if v = v*r.Scale + r.Offset; !finite(v) {
		return 0, &NoValueError{fmt.Sprintf("%v (%X)", v, data)}
	}
	return v, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
