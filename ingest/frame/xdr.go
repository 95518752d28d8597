package frame

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"manobridge/convert"
)

// xdr reads transducer sentences of NMEA 0183: `$--XDR`, then groups of type, value, unit and name. The check value has
// been looked at before, and is not part of the line here. Other sentences are of no concern.
//
// Source: NMEA 0183 as described in the GPSD project's "NMEA Revealed", section XDR.
type xdr struct {
	kinds  map[string]field // by name of the transducer
	talker bool             // the two letters before XDR are the address
	numbers
}

// xdrUnit is a type and unit of the sentence that a field may have, and the factor to the unit of the field's name.
type xdrUnit struct {
	kind, unit string
	factor     float64
}

// generic is a number without a unit.
var generic = []xdrUnit{{"G", "", 1}}

// xdrUnits says which quantities each field takes. Types: D linear displacement, C temperature, A angle, P pressure,
// H humidity, G generic, U voltage, I current. Units: M metre, C degree Celsius, D degree, B bar, P pascal (of a pressure)
// or per cent, H hectopascal (of a pressure; not in the standard, but sent by weather transmitters), V volt, A ampere.
var xdrUnits = [fieldCount][]xdrUnit{
	lowMM:        {{"D", "M", 1000}},
	highMM:       {{"D", "M", 1000}},
	reading:      {{"G", "", 1}},
	temperatureC: {{"C", "C", 1}},
	tiltDeg:      {{"A", "D", 1}},
	ambientC:     {{"C", "C", 1}},
	pressureHPa:  {{"P", "B", 1000}, {"P", "P", 0.01}, {"P", "H", 1}},
	humidityPct:  {{"H", "P", 1}},
	lowCounts:    generic, highCounts: generic, score: generic, edges: generic, counter: generic,
	lowPx: generic, highPx: generic, fiducial1: generic, fiducial2: generic, fiducial3: generic, fiducial4: generic,
	lowV: {{"U", "V", 1}}, highV: {{"U", "V", 1}},
	lowMA: {{"I", "A", 1000}}, highMA: {{"I", "A", 1000}},
	lowDistance: {{"D", "M", 1000}}, highDistance: {{"D", "M", 1000}},
}

func newXDR(o Options) (*checked, []error) {
	n, problems := newNumbers(o)
	n.suffixes = [fieldCount][]string{} // units have their own place
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	x := &xdr{kinds: make(map[string]field, len(o.Transducers)), talker: o.TalkerAddress, numbers: n}
	if len(o.Transducers) == 0 {
		problems = append(problems, errors.New("transducers: missing; the name of each transducer that is wanted, with the field it holds"))
		return nil, problems
	}
	if n.mark != '.' {
		bad("decimal: numbers in NMEA 0183 have a point")
	}
	if o.Checksum != (Checksum{}) {
		bad("checksum: is part of NMEA 0183; leave it out")
	}
	names := make([]string, 0, len(o.Transducers))
	for _, transducer := range slices.Sorted(maps.Keys(o.Transducers)) {
		name := o.Transducers[transducer]
		names = append(names, name)
		kind, ok := fieldNamed(name)
		if ok && xdrUnits[kind] == nil {
			bad("transducers: %q cannot come from a transducer", name)
		}
		x.kinds[transducer] = kind
	}
	_, errs := parseFields(names, !o.ChannelsOnly)
	problems = append(problems, errs...)
	// The exclusive or of everything between the start character and the star.
	c, errs := newChecked(x, Checksum{Name: "xor-8", Marker: "*", Skip: 1})
	return c, append(problems, errs...)
}

// parse implements lineParser.
func (x *xdr) parse(f *Frame) (ignored bool) {
	parts := bytes.Split(f.Raw, []byte{','})
	head := parts[0]
	if len(head) == 0 || head[0] != '$' && head[0] != '!' {
		// The start is not covered by the check value. Without it this is no other sentence, but perhaps one of ours.
		x.attribute(f, nil)
		f.refuse(refuseForm(f.Raw, "does not begin a sentence", "$ or ! at the start"))
		return false
	}
	if len(head) < 6 || head[0] != '$' || string(head[len(head)-3:]) != "XDR" {
		return true
	}
	f.Addressed = true
	if x.talker {
		f.Address = head[1 : len(head)-3]
	}
	groups := parts[1:]
	for len(groups)%4 != 0 && len(groups[len(groups)-1]) == 0 {
		groups = groups[:len(groups)-1] // some senders close the last group with a comma
	}
	if len(groups) == 0 || len(groups)%4 != 0 {
		f.refuse(&convert.Refusal{
			Code: convert.FrameFields, Field: "line", Seen: fmt.Sprintf("%s has %s", quote(f.Raw), count(len(groups), "field")),
			Allowed: "groups of four: type, value, unit, name", Check: "the digitizer's output format",
		})
		return false
	}
	seen := make(map[string]bool)
	for g := range slices.Chunk(groups, 4) {
		name := string(g[3])
		kind, wanted := x.kinds[name]
		if !wanted || !slices.ContainsFunc(xdrUnits[kind], func(u xdrUnit) bool { return u.kind == string(g[0]) }) {
			continue // also one of the same name that measures something else, as where each type counts its own from 0
		}
		if seen[name] {
			f.refuse(refuseForm(f.Raw, fmt.Sprintf("has %s twice", quote(g[3])), "each transducer once"))
			return false
		}
		seen[name] = true
		if !x.group(f, kind, g) {
			return false
		}
	}
	for _, name := range slices.Sorted(maps.Keys(x.kinds)) {
		if !seen[name] {
			f.refuse(&convert.Refusal{
				Code: convert.FrameFields, Field: fieldInfos[x.kinds[name]].bench, Seen: fmt.Sprintf("is missing: no transducer %q of type %s", name, xdrUnits[x.kinds[name]][0].kind),
				Allowed: "every configured transducer in each line", Check: "the digitizer's output format",
			})
			return false
		}
	}
	return false
}

// group reads one group of type, value, unit and name.
func (x *xdr) group(f *Frame, kind field, g [][]byte) bool {
	allowed := xdrUnits[kind]
	i := slices.IndexFunc(allowed, func(u xdrUnit) bool { return u.kind == string(g[0]) && u.unit == string(g[2]) })
	if i < 0 {
		words := make([]string, len(allowed))
		for k, u := range allowed {
			words[k] = fmt.Sprintf("type %s in unit %q", u.kind, u.unit)
		}
		f.refuse(&convert.Refusal{
			Code: convert.FrameFormat, Field: fieldInfos[kind].bench,
			Seen:    fmt.Sprintf("comes as type %s in unit %s (at %s)", quote(g[0]), quote(g[2]), quote(g[3])),
			Allowed: strings.Join(words, " or "), Check: "the digitizer's output format, and which transducer is which",
		})
		return false
	}
	if !x.put(f, kind, g[1], place{name: string(g[3])}) {
		return false
	}
	if factor := allowed[i].factor; factor != 1 {
		v, _, _ := parseNumber(g[1], x.mark) // put has just found it sound
		f.set(kind, v*factor)
	}
	return true
}

// attribute implements lineParser.
func (x *xdr) attribute(f *Frame, _ []byte) { f.Addressed = !x.talker }
