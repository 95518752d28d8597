package configs

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// carrierHints show how the key that says what the frames carry is written, by format.
var carrierHints = map[string]string{
	FormatDelimited: "name the fields in the order they come, as [address, low_mm, temperature_c]",
	FormatPattern:   "write a regular expression with a named group for each field, as 'H=(?P<low_mm>[0-9.]+)'",
	FormatJSONLines: "name the member that holds each field, as {low_mm: column.position}",
	FormatNMEAXDR:   "name the field that each transducer holds, as {LOW: low_mm}",
	FormatBinary:    "describe the frame: start, length, fields and checksum",
}

func (k *checker) frame(path string, f Frame) {
	if f.Format == "" || k.bad(path) || k.bad(join(path, "format")) {
		return
	}
	k.only(path, blockFields[Frame](), "format", f.Format)
	for _, key := range needs[f.Format] {
		if at := join(path, key); !k.stated(at) {
			k.missing(at, carrierHints[f.Format])
		}
	}
	k.checksum(path, f)
	switch f.Format {
	case FormatDelimited:
		k.separator(path, f)
	case FormatPattern:
		k.pattern(path, f)
	case FormatJSONLines:
		k.members(path, f)
	case FormatNMEAXDR:
		if _, nameless := f.Transducers[""]; nameless {
			k.report(join(path, "transducers"), Problem{Fault: "has a transducer without a name"})
		}
	case FormatBinary:
		k.binary(join(path, "binary"), f.Binary)
	}
	k.carried(path, f)
}

// carried demands a position, and each field once.
func (k *checker) carried(path string, f Frame) {
	if k.touched(join(path, f.carrier())) {
		return
	}
	at := join(path, f.carrier())
	if !k.c.OnlyStations(lastKey(parent(path))) && !hasPosition(f.Carried()) {
		k.report(at, Problem{Fault: "has no position", Hint: "high_mm, low_mm, reading or the signal of a limb, as low_counts, is needed"})
	}
	names := f.Carried()
	k.oneSignal(at, names)
	for i, name := range names {
		if slices.Index(names, name) < i && !k.bad(at) {
			p := Problem{Seen: quote(name), Fault: "is named twice"}
			if f.Format == FormatDelimited {
				p.Hint = "a field that is not wanted is named skip"
			}
			k.report(at, p)
		}
	}
}

// touched tells whether a key, a block that holds it or anything inside it has been reported.
func (k *checker) touched(path string) bool {
	if k.bad(path) {
		return true
	}
	for p := range k.spoiled {
		if strings.HasPrefix(p, path+".") || strings.HasPrefix(p, path+"[") {
			return true
		}
	}
	return false
}

// unclear tells whether it is unknown what the frames of a port carry, because what says it has been reported.
func (k *checker) unclear(p *Port) bool {
	if !p.InFrames() {
		return k.touched(join(join("ports", p.Name), "ask.registers")) || len(p.Ask.Registers.Named()) == 0 && k.c.registersNeeded(p.Name)
	}
	path := join(join("ports", p.Name), "frame")
	return k.bad(join(path, "format")) || k.touched(join(path, p.Frame.carrier())) || len(p.Frame.Carried()) == 0
}

func (k *checker) checksum(path string, f Frame) {
	if c := f.Checksum; c != nil && (len(c.Marker) > 8 || strings.ContainsAny(c.Marker, "0123456789abcdefABCDEF")) {
		k.report(join(path, "checksum.marker"), Problem{Seen: quote(c.Marker), Fault: "is not", Allowed: "up to 8 characters, none of them a hexadecimal digit"})
	}
}

func (k *checker) separator(path string, f Frame) {
	if separator := join(path, "separator"); !k.bad(separator) {
		if len(f.Separator) > 8 && f.Separator != "whitespace" || strings.ContainsAny(f.Separator, "0123456789+-.") {
			k.report(separator, Problem{Seen: quote(f.Separator), Fault: "is not", Allowed: "what stands between two numbers, up to 8 characters, or the word whitespace"})
		} else if strings.Contains(f.Separator, f.Decimal) {
			k.report(separator, Problem{Seen: quote(f.Separator), Fault: "holds the decimal sign " + quote(f.Decimal), Hint: "the two must differ"})
		}
	}
}

func (k *checker) pattern(path string, f Frame) {
	at := join(path, "pattern")
	if k.bad(at) {
		return
	}
	re, err := regexp.Compile(f.Pattern)
	if err != nil {
		k.report(at, Problem{Fault: "cannot be read: " + strings.TrimPrefix(err.Error(), "error parsing regexp: "), Hint: "RE2 syntax; in single quotes YAML leaves backslashes alone"})
		return
	}
	fields := blockFields[Frame]()
	known := fields[slices.IndexFunc(fields, func(f field) bool { return f.key == "fields" })].words("enum", "|")
	for _, name := range re.SubexpNames() {
		if name == "" || slices.Contains(known, name) {
			continue
		}
		p := Problem{Seen: quote(name), Fault: "is a group that is not one of", Allowed: strings.Join(known, ", ")}
		if w := nearest(name, known); w != "" {
			p.Hint = fmt.Sprintf("did you mean %q?", w)
		}
		k.report(at, p)
		return
	}
}

func (k *checker) members(path string, f Frame) {
	owner := map[string]string{}
	for _, one := range f.Keys.list() {
		at := join(join(path, "keys"), one.field)
		if k.bad(at) {
			continue
		}
		if other, twice := owner[one.path]; twice {
			k.report(at, Problem{Seen: quote(one.path), Fault: "is also the member of " + other, Hint: "one member holds one field"})
		} else if one.path[0] == '.' {
			k.report(at, Problem{Seen: quote(one.path), Fault: "is not a path, which is", Allowed: "names from the outside in with a point between two, as column.position"})
		}
		owner[one.path] = one.field
	}
}
