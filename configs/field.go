package configs

import (
	"reflect"
	"strconv"
	"strings"
)

// field is one key of a block, with the rules its tags state.
type field struct {
	key   string
	name  string // of the Go field
	index []int
	tag   reflect.StructTag
	typ   reflect.Type
}

// fieldsOf lists the keys of a struct in order, those of inlined structs included.
func fieldsOf(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("yaml")
		if f.Anonymous {
			for _, inner := range fieldsOf(f.Type) {
				inner.index = append([]int{i}, inner.index...)
				out = append(out, inner)
			}
			continue
		}
		if !f.IsExported() || tag == "-" || tag == "" {
			continue
		}
		out = append(out, field{key: tag, name: f.Name, index: []int{i}, tag: f.Tag, typ: f.Type})
	}
	return out
}

// keysOf lists the keys alone.
func keysOf(fields []field) []string {
	out := make([]string, len(fields))
	for i, f := range fields {
		out[i] = f.key
	}
	return out
}

// isSet tells whether the file stated the value, for the types whose zero value means that it did not.
func isSet(v reflect.Value) bool { return !v.IsZero() }

// bound is a range with a unit. Brackets are the tag's: [ and ] include the end, ( and ) leave it out.
type bound struct {
	low, high         float64
	lowOpen, highOpen bool
	unit              string
}

// parseBound reads one part of a range tag, as (0,90] or [1s,24h]. The tags are ours, and a test reads them all.
func parseBound(tag, unit string) bound {
	lowText, highText, _ := strings.Cut(strings.Trim(tag, "[]()"), ",")
	return bound{
		low: boundEnd(lowText), high: boundEnd(highText),
		lowOpen: strings.HasPrefix(tag, "("), highOpen: strings.HasSuffix(tag, ")"),
		unit: unit,
	}
}

func (b bound) holds(v float64) bool {
	return (v > b.low || v == b.low && !b.lowOpen) && (v < b.high || v == b.high && !b.highOpen)
}

// String says what is allowed: 500 to 14000 kg/m³.
func (b bound) String() string {
	s := number(b.low) + " to " + withUnit(b.high, b.unit)
	switch {
	case b.lowOpen && b.highOpen:
		s += ", both ends excluded"
	case b.lowOpen:
		s += ", " + number(b.low) + " excluded"
	case b.highOpen:
		s += ", " + number(b.high) + " excluded"
	}
	return s
}

// bounds gives the range of each element: one for all, or one per column.
func (f field) bounds() []bound {
	tag := f.tag.Get("range")
	if tag == "" {
		return nil
	}
	parts := strings.Split(tag, ";")
	units := strings.Split(f.tag.Get("unit"), ";")
	out := make([]bound, len(parts))
	for i, part := range parts {
		unit := unitOf(f.key)
		if len(units) == len(parts) && units[i] != "" {
			unit = units[i]
		}
		out[i] = parseBound(part, unit)
	}
	return out
}

// words splits a tag that lists words.
func (f field) words(tag, separator string) []string {
	s := f.tag.Get(tag)
	if s == "" {
		return nil
	}
	return strings.Split(s, separator)
}

// count reads a tag that holds a number of elements, with a default.
func (f field) count(tag string, otherwise int) int {
	if n, err := strconv.Atoi(f.tag.Get(tag)); err == nil {
		return n
	}
	return otherwise
}
