package configs

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
)

func (k *checker) uncertainty(path string, in *Instrument) {
	u := &in.Uncertainty
	fields := blockFields[Uncertainty]()
	k.only(path, fields, "kind", in.Geometry.Kind)
	geometry := blockFields[Geometry]()
	for _, f := range fields {
		at := join(path, f.key)
		if !k.stated(at) || k.bad(at) || in.Geometry.Kind == LimbPair || in.Geometry.Kind == Graduated {
			continue
		}
		i := slices.IndexFunc(geometry, func(g field) bool { return g.key == f.key && g.tag.Get("only") != "" && isNumber(f) })
		if i < 0 || k.stated(join(parent(path), "geometry."+f.key)) || k.bad(join(parent(path), "geometry."+f.key)) {
			continue
		}
		if f.key == "bore_mm" && in.Geometry.HighBoreMM != nil {
			continue
		}
		k.report(at, Problem{Fault: "belongs to geometry." + f.key + ", which is not stated", Hint: "state the uncertainty of the key the geometry has"})
	}
	k.dof(join(path, "dof"), u.DOF, reflect.ValueOf(*u), fields)
	limbs := blockFields[LimbUncertainty]()
	for _, limb := range []struct {
		name string
		u    *LimbUncertainty
	}{{"high", u.High}, {"low", u.Low}} {
		if limb.u != nil {
			at := join(path, limb.name)
			k.only(at, limbs, "kind", in.Geometry.Kind)
			k.dof(join(at, "dof"), limb.u.DOF, reflect.ValueOf(*limb.u), limbs)
		}
	}
}

// dof wants degrees of freedom to belong to an uncertainty that is stated.
func (k *checker) dof(path string, dof map[string]float64, block reflect.Value, fields []field) {
	for _, key := range slices.Sorted(maps.Keys(dof)) {
		at := join(path, key)
		i := slices.IndexFunc(fields, func(f field) bool {
			return f.key == key && isNumber(f)
		})
		switch {
		case k.bad(at) || k.bad(join(parent(path), key)):
		case i < 0:
			p := Problem{Fault: "no such input"}
			if w := nearest(key, keysOf(fields)); w != "" {
				p.Hint = fmt.Sprintf("did you mean %q?", w)
			}
			k.report(at, p)
		case !isSet(block.FieldByIndex(fields[i].index)):
			k.report(at, Problem{Fault: "has degrees of freedom and no uncertainty", Hint: "state " + key + " beside dof, from the same readings"})
		}
	}
}

// isNumber tells whether a key holds one optional number.
func isNumber(f field) bool { return f.typ == reflect.TypeFor[*float64]() }
