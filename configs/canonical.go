package configs

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
)

// Canonical writes everything in the file that decides what one instrument's positions mean, as JSON with sorted keys:
// the instrument, the location, the ambient and the liquids it uses. Two files give the same text exactly when they
// state the same, however they are laid out; the port and the address are left out, as moving a cable changes no value.
// The caller hashes it, together with the version of the rules that fill in what was not stated.
func (c *Config) Canonical(instrument string) ([]byte, error) {
	i := slices.IndexFunc(c.Instruments, func(in Instrument) bool { return in.Name == instrument })
	if i < 0 {
		return nil, fmt.Errorf("no instrument %q in the configuration", instrument)
	}
	in := c.Instruments[i]
	liquids := map[string]any{}
	for _, name := range in.fluids() {
		for _, l := range c.Liquids {
			if l.Name == name {
				liquids[name] = plainValue(reflect.ValueOf(l))
			}
		}
	}
	return json.Marshal(map[string]any{
		"instrument": plainValue(reflect.ValueOf(in)),
		"location":   plainValue(reflect.ValueOf(c.Location)),
		"ambient":    plainValue(reflect.ValueOf(c.Ambient)),
		"liquids":    liquids,
	})
}

// fluids names every fluid an instrument uses.
func (i *Instrument) fluids() []string {
	names := []string{i.Liquid, i.Geometry.LineFluid, i.Geometry.ChamberLiquid}
	for _, l := range []*Limb{i.Geometry.High, i.Geometry.Low} {
		if l != nil {
			names = append(names, l.Over)
		}
	}
	if i.Legs != nil {
		for _, l := range []*Leg{i.Legs.High, i.Legs.Low} {
			if l != nil {
				names = append(names, l.Fluid)
			}
		}
	}
	return names
}

// plainValue turns a value into maps, lists and scalars; what is not stated is left out.
func plainValue(v reflect.Value) any {
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		text, err := m.MarshalText()
		if err != nil {
			return nil
		}
		return string(text)
	}
	switch v.Kind() {
	case reflect.Pointer:
		return plainValue(v.Elem())
	case reflect.Struct:
		out := map[string]any{}
		for _, f := range fieldsOf(v.Type()) {
			value := v.FieldByIndex(f.index)
			if f.tag.Get("canonical") == "-" || !isSet(value) {
				continue
			}
			out[f.key] = plainValue(value)
		}
		return out
	case reflect.Slice, reflect.Array:
		out := make([]any, v.Len())
		for i := range out {
			out[i] = plainValue(v.Index(i))
		}
		return out
	}
	return v.Interface()
}
