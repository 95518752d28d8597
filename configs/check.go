package configs

import (
	"fmt"
	"slices"
	"strings"
)

// checker holds the values against one another, after the walker has held each against its own rule. What the walker
// has reported is not reported again as missing or contradicting.
type checker struct {
	*walker
	c *Config
	o Options
}

func (k *checker) all() {
	k.site()
	k.location()
	k.liquids()
	k.ports()
	for i := range k.c.Instruments {
		k.instrument(&k.c.Instruments[i])
	}
	k.stations()
	k.sharedPorts()
	k.temperatureSources()
	k.channels()
	k.limits()
	k.names()
	k.publish()
	k.display()
	k.listening()
}

// report notes a problem of a key.
func (k *checker) report(path string, p Problem) {
	p.Key, p.Line = path, lineOf(k.lines, path)
	k.problems = append(k.problems, p)
	k.spoiled[path] = true
}

// remark notes what is legal but worth a second look.
func (k *checker) remark(path, text string) {
	k.c.Remarks = append(k.c.Remarks, Problem{Line: lineOf(k.lines, path), Key: path, Fault: text})
}

// missing reports a key that is needed, unless it or what holds it has been reported.
func (k *checker) missing(path, hint string) {
	if !k.bad(path) {
		k.report(path, Problem{Fault: "needed, and not stated", Hint: hint})
	}
}

// stated tells whether the file has the key.
func (k *checker) stated(path string) bool { _, ok := k.lines[path]; return ok }

// bad tells whether a key, or a block that holds it, has been reported.
func (k *checker) bad(path string) bool {
	for p := path; p != ""; p = parent(p) {
		if k.spoiled[p] {
			return true
		}
	}
	return false
}

// oneOf reports when not exactly one of two keys of a block is stated.
func (k *checker) oneOf(path, a, b string) {
	pa, pb := join(path, a), join(path, b)
	switch {
	case k.stated(pa) && k.stated(pb):
		k.report(pb, Problem{Fault: "contradicts " + a + ", which says the same thing", Hint: "keep one of the two"})
	case !k.stated(pa) && !k.stated(pb) && !k.bad(pa) && !k.bad(pb):
		k.report(pa, Problem{Fault: "needed, and not stated", Hint: "state it, or " + b + " in its place"})
	}
}

// rising reports a pair whose first value is not below its second.
func (k *checker) rising(path string, pair *[2]float64, what string) {
	if pair != nil && !k.bad(path) && pair[0] >= pair[1] {
		k.report(path, Problem{Seen: fmt.Sprintf("[%s, %s]", number(pair[0]), number(pair[1])), Fault: "does not rise", Hint: "write the lower " + what + " first"})
	}
}

// only reports the stated keys of a block that its kind or format does not use.
func (k *checker) only(path string, fields []field, discriminator, kind string) {
	for _, f := range fields {
		users := f.words("only", ",")
		at := join(path, f.key)
		if users == nil || slices.Contains(users, kind) || !k.stated(at) {
			continue
		}
		k.report(at, Problem{Fault: "is not used by " + discriminator + " " + kind, Hint: "it belongs to " + list(users)})
	}
}

func (k *checker) site() {
	if k.c.Bridge == "" && !k.bad("bridge") {
		k.report("bridge", Problem{Fault: "needed, as the host name gives none", Hint: "name this bridge, as rack-pc"})
	}
}

func (k *checker) location() {
	l := k.c.Location
	if l.GravityMS2 == nil && l.LatitudeDeg == nil && l.HeightM == nil {
		const key = "location.latitude_deg"
		if k.bad("location.latitude_deg") || k.bad("location.height_m") || k.bad("location.gravity_m_s2") {
			return
		}
		k.report(key, Problem{Fault: "needed, and not stated", Hint: "state latitude_deg and height_m, or a measured gravity_m_s2"})
		return
	}
	if l.GravityMS2 == nil && l.LatitudeDeg == nil {
		k.missing("location.latitude_deg", "height_m alone gives no gravity")
	}
	if l.GravityMS2 == nil && l.HeightM == nil {
		k.missing("location.height_m", "latitude_deg alone gives no gravity")
	}
	k.stationPressure()
	if h := k.c.Ambient.RelativeHumidityPct; h != nil && *h > 0 && *h <= 1 {
		k.remark("ambient.relative_humidity_pct", withUnit(*h, "%")+" is very dry air: it is to be in %, not a fraction of 1")
	}
}

// names demands that instruments and bridge are told apart in topics, where they stand at the same level.
func (k *checker) names() {
	for _, in := range k.c.Instruments {
		path := join("instruments", in.Name)
		if in.Name == k.c.Bridge {
			k.report(path, Problem{Fault: "has the same name as the bridge", Hint: "both stand at the same level of the topics: rename one"})
		}
		if slices.Contains(reserved, in.Name) {
			k.report(path, Problem{Fault: "is a word that temperature: {from: ...} uses", Hint: "rename it"})
		}
	}
	for _, l := range k.c.Limits {
		path := join("limits", l.Name)
		if l.Name == k.c.Bridge || slices.ContainsFunc(k.c.Instruments, func(in Instrument) bool { return in.Name == l.Name }) {
			k.report(path, Problem{Fault: "has the name of an instrument or of the bridge", Hint: "they stand at the same level of the topics: rename one"})
		}
	}
	if len(k.c.Instruments) == 0 && k.stated("instruments") && !k.bad("instruments") {
		k.report("instruments", Problem{Fault: "names none"})
	}
}

// parent is the path of the block that holds a key.
func parent(path string) string {
	i := strings.LastIndexAny(path, ".[")
	if i < 0 {
		return ""
	}
	return path[:i]
}

// lastKey is a key without the path to it.
func lastKey(path string) string { return path[strings.LastIndexByte(path, '.')+1:] }

// lineOf is the line of a key, or of the nearest block that holds it.
func lineOf(lines map[string]int, path string) int {
	for p := path; p != ""; p = parent(p) {
		if line, ok := lines[p]; ok {
			return line
		}
	}
	return 0
}
