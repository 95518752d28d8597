package configs

import (
	"fmt"
	"reflect"
)

// blockFields lists the keys of a block type.
func blockFields[T any]() []field { return fieldsOf(reflect.TypeFor[T]()) }

func (k *checker) instrument(in *Instrument) {
	path := join("instruments", in.Name)
	if k.bad(path) && !k.stated(join(path, "geometry")) {
		return
	}
	k.mergeConditions(path, in)
	port := k.portOf(path, in)
	k.ownAsk(path, in, port)
	k.fluidNamed(join(path, "liquid"), in.Liquid)
	kind := in.Geometry.Kind
	if kind == "" || k.bad(join(path, "geometry.kind")) {
		return
	}
	if in.Liquid == "air" && kind != InvertedUTube {
		k.report(join(path, "liquid"), Problem{Seen: `"air"`, Fault: "is not a liquid for kind " + kind, Hint: "only inverted-u-tube may have air on top"})
	}
	k.geometry(join(path, "geometry"), in)
	k.legs(path, in)
	k.signal(path, in, port)
	k.positions(path, in, port)
	k.uncertainty(join(path, "uncertainty"), in)
	k.rising(join(path, "range_pa"), in.RangePa, "pressure")
	if kind == Sealed && in.RangePa != nil && in.RangePa[0] < 0 && !k.bad(join(path, "range_pa")) {
		k.report(join(path, "range_pa"), Problem{Seen: withUnit(in.RangePa[0], "Pa"), Fault: "is below vacuum", Hint: "kind sealed measures absolute pressure"})
	}
	if !k.stated(k.condition(path, "scale_expansion_per_k")) {
		k.remark(path, "scale_expansion_per_k is not stated: the scale is taken not to expand")
	}
}

// condition is the path a condition is stated at: beside geometry or within it.
func (k *checker) condition(path, key string) string {
	if within := join(path, "geometry."+key); k.stated(within) {
		return within
	}
	return join(path, key)
}

// mergeConditions moves what stands within geometry beside it, so that there is one place to read.
func (k *checker) mergeConditions(path string, in *Instrument) {
	beside, within := reflect.ValueOf(&in.Conditions).Elem(), reflect.ValueOf(&in.Geometry.Conditions).Elem()
	for _, f := range blockFields[Conditions]() {
		from, to := within.FieldByIndex(f.index), beside.FieldByIndex(f.index)
		if !isSet(from) {
			continue
		}
		if isSet(to) {
			outer := join(path, f.key)
			k.report(join(path, "geometry."+f.key), Problem{Fault: fmt.Sprintf("stated twice, also beside geometry in line %d", k.lines[outer]), Hint: "keep one"})
		}
		to.Set(from)
	}
	within.SetZero()
}

// portOf finds the port of an instrument; nil where it has none or names a missing one, which is reported.
func (k *checker) portOf(path string, in *Instrument) *Port {
	at := join(path, "port")
	switch {
	case in.Port == "" && in.Offline:
		return nil
	case in.Port == "":
		k.missing(at, "name a port, or state offline: true for an instrument read from files only")
		return nil
	case in.Offline:
		k.report(join(path, "offline"), Problem{Fault: "contradicts port", Hint: "keep one of the two"})
		return nil
	}
	for i := range k.c.Ports {
		if k.c.Ports[i].Name == in.Port {
			return k.c.portAs(in.Port, in.Ask)
		}
	}
	if k.bad(at) || k.bad("ports") {
		return nil
	}
	names := make([]string, len(k.c.Ports))
	for i, p := range k.c.Ports {
		names[i] = p.Name
	}
	p := Problem{Seen: quote(in.Port), Fault: "is not a port under ports"}
	if w := nearest(in.Port, names); w != "" {
		p.Hint = fmt.Sprintf("did you mean %q?", w)
	} else if len(names) > 0 && len(names) <= 8 {
		p.Hint = "there is " + list(names)
	}
	k.report(at, p)
	return nil
}

func (k *checker) legs(path string, in *Instrument) {
	at := k.condition(path, "legs")
	if in.Legs == nil {
		return
	}
	for _, side := range []struct {
		name string
		leg  *Leg
		limb *Limb
	}{{"high", in.Legs.High, in.Geometry.High}, {"low", in.Legs.Low, in.Geometry.Low}} {
		if side.leg == nil {
			continue
		}
		k.fluidNamed(join(at, side.name+".fluid"), side.leg.Fluid)
		if side.limb == nil {
			continue
		}
		if side.leg.Fluid != "" && side.limb.Over != "" {
			k.report(join(at, side.name+".fluid"), Problem{Fault: "contradicts over of the same limb, which says the same thing", Hint: "keep one of the two"})
		}
		if side.leg.TapHeightMM != nil && side.limb.TapHeightMM != nil {
			k.report(join(at, side.name+".tap_height_mm"), Problem{Fault: "contradicts tap_height_mm of the same limb, which says the same thing", Hint: "keep one of the two"})
		}
	}
}

// temperatureSources resolves where each liquid temperature comes from, and demands that it comes from somewhere.
func (k *checker) temperatureSources() {
	for i := range k.c.Instruments {
		in := &k.c.Instruments[i]
		path := join("instruments", in.Name)
		t := &in.Temperature
		from := join(path, "temperature.from")
		if k.bad(path) || k.bad(from) || k.bad(join(path, "port")) {
			continue
		}
		carried := in.Offline || k.carriesTemperature(in.Port, in.Ask)
		switch t.From {
		case "":
			switch {
			case carried:
				t.From = FromFrame
			case t.FixedC != nil:
				t.From = FromFixed
			default:
				k.missing(join(path, "temperature.fixed_c"), in.carriesNo("temperature_c")+", so write temperature: {fixed_c: ...} or temperature: {from: ...}")
			}
		case FromFrame:
			if !carried {
				k.report(from, Problem{Seen: `"frame"`, Fault: "cannot be: " + in.carriesNo("temperature_c"), Hint: "add the field, or state fixed_c"})
			}
		case FromFixed:
			if t.FixedC == nil {
				k.missing(join(path, "temperature.fixed_c"), "from: fixed needs it")
			}
		case FromAmbient:
		default:
			k.temperatureFrom(from, in)
		}
	}
}

// carriesTemperature tells whether the frames of a port carry temperature_c, or what is asked of an instrument there. Of a
// port that has been reported it is taken that they do.
func (k *checker) carriesTemperature(port string, own *OwnAsk) bool {
	p := k.c.portAs(port, own)
	return p == nil || p.Has("temperature_c") || k.unclear(p)
}

// temperatureFrom checks the name of another instrument as a source.
func (k *checker) temperatureFrom(path string, in *Instrument) {
	other := in.Temperature.From
	port, ok := k.c.source(other)
	switch {
	case !ok:
		p := Problem{Seen: quote(other), Fault: "is not", Allowed: "frame, fixed, ambient or the name of a station or another instrument"}
		if w := nearest(other, k.sources()); w != "" {
			p.Hint = fmt.Sprintf("did you mean %q?", w)
		}
		k.report(path, p)
	case other == in.Name:
		k.report(path, Problem{Seen: quote(other), Fault: "is the instrument itself", Hint: "write frame"})
	case port == "" || !k.carriesTemperature(port, k.c.ownAsk(other)):
		k.report(path, Problem{Seen: quote(other), Fault: "has no temperature_c in its frames"})
	}
}
