package configs

import (
	"fmt"
	"slices"
	"strings"
)

// reserved are the words that a source of a channel may be named by, beside a name.
var reserved = []string{FromFrame, FromFixed, FromAmbient}

// stations holds what stations state against the ports.
func (k *checker) stations() {
	for i := range k.c.Stations {
		s := &k.c.Stations[i]
		path := join("stations", s.Name)
		if k.bad(path) {
			continue
		}
		if slices.Contains(reserved, s.Name) {
			k.report(path, Problem{Fault: "is a word that from: uses", Hint: "rename it"})
		}
		if s.Name == k.c.Bridge || slices.ContainsFunc(k.c.Instruments, func(in Instrument) bool { return in.Name == s.Name }) {
			k.report(path, Problem{Fault: "has the name of an instrument or of the bridge", Hint: "rename one: the journal names both"})
		}
		k.stationPort(join(path, "port"), s)
	}
}

func (k *checker) stationPort(at string, s *Station) {
	p := k.c.port(s.Port)
	switch {
	case k.bad(at) || k.bad("ports") || s.Port == "":
	case p == nil:
		problem := Problem{Seen: quote(s.Port), Fault: "is not a port under ports"}
		names := make([]string, len(k.c.Ports))
		for i := range k.c.Ports {
			names[i] = k.c.Ports[i].Name
		}
		if w := nearest(s.Port, names); w != "" {
			problem.Hint = fmt.Sprintf("did you mean %q?", w)
		}
		k.report(at, problem)
	case k.unclear(p):
	case !p.Has("temperature_c") && !p.Has("contact") && !slices.ContainsFunc(channelFields[:], p.Has):
		k.report(at, Problem{Seen: quote(s.Port), Fault: "brings nothing that a station is for", Hint: "name temperature_c, contact, " + strings.Join(channelFields[:], ", ") + " or some of them in its frames"})
	default:
		if !k.usesSource(s.Name) {
			k.remark(parent(at), "no instrument takes anything from it")
		}
	}
}

// usesSource tells whether anything is taken from a source.
func (k *checker) usesSource(name string) bool {
	if k.c.Ambient.From == name {
		return true
	}
	if slices.ContainsFunc(k.c.Limits, func(l Limit) bool {
		return l.Door != nil && l.Door.From == name || l.SuppressWhile != nil && l.SuppressWhile.From == name
	}) {
		return true
	}
	return slices.ContainsFunc(k.c.Instruments, func(in Instrument) bool {
		return in.Temperature.From == name || slices.ContainsFunc(channelFields[:], func(f string) bool {
			c := in.Channels.Of(f)
			return c != nil && c.From == name
		})
	})
}

// channels resolves where every channel comes from.
func (k *checker) channels() {
	if a := k.c.Ambient; a.From != "" && !k.bad("ambient.from") {
		const at = "ambient.from"
		if slices.Contains(reserved, a.From) {
			k.report(at, Problem{Seen: quote(a.From), Fault: "is not the name of a station or an instrument", Hint: "leave it out where the values are fixed"})
		} else {
			k.sourceNamed(at, a.From, "", channelFields[:3])
		}
	}
	for i := range k.c.Instruments {
		in := &k.c.Instruments[i]
		path := join("instruments", in.Name)
		k.average(join(path, "average"), in)
		for _, field := range channelFields {
			c, at := in.Channels.Of(field), join(path, "channels."+field+".from")
			if c == nil || k.bad(at) || k.bad(join(path, "port")) {
				continue
			}
			switch {
			case c.From == FromFixed:
			case c.From == FromFrame:
				if p := k.c.portAs(in.Port, in.Ask); p != nil && !p.Has(field) && !k.unclear(p) {
					k.report(at, Problem{Seen: `"frame"`, Fault: "cannot be: " + in.carriesNo(field), Hint: "add the field, or name another source"})
				}
			case in.Offline:
				k.report(at, Problem{Seen: quote(c.From), Fault: "is not there for an instrument read from files", Hint: "a row brings its own " + field + ": leave it out"})
			default:
				k.sourceNamed(at, c.From, in.Name, []string{field})
			}
		}
	}
}

// fewReadings is under how many readings a window tells little of how uncertain their mean is, as likeness among them is not
// seen. Judgement.
const fewReadings = 20

func (k *checker) average(at string, in *Instrument) {
	a := in.Average
	if a == nil || k.bad(at) {
		return
	}
	if in.Offline {
		k.report(at, Problem{Fault: "is not used: of an instrument read from files every row is a result", Hint: "remove it"})
		return
	}
	if p := k.c.portAs(in.Port, in.Ask); p != nil && p.Ask != nil && a.Window < fewReadings*p.Ask.Every {
		k.remark(at, fmt.Sprintf("a window of %s holds few readings asked for every %s: how uncertain their mean is can hardly be told from them", a.Window, p.Ask.Every))
	}
}

// sourceNamed checks the name of a source, which must carry one of the fields at least.
func (k *checker) sourceNamed(at, name, self string, fields []string) {
	port, ok := k.c.source(name)
	switch p := k.c.portAs(port, k.c.ownAsk(name)); {
	case !ok:
		problem := Problem{Seen: quote(name), Fault: "is not", Allowed: "frame, fixed, or the name of a station or another instrument"}
		if at == "ambient.from" {
			problem.Allowed = "the name of a station or an instrument"
		}
		if w := nearest(name, k.sources()); w != "" {
			problem.Hint = fmt.Sprintf("did you mean %q?", w)
		}
		k.report(at, problem)
	case name == self:
		k.report(at, Problem{Seen: quote(name), Fault: "is the instrument itself", Hint: "write frame"})
	case p == nil && port != "" || p != nil && k.unclear(p): // reported where it is named
	case p == nil || !slices.ContainsFunc(fields, p.Has):
		k.report(at, Problem{Seen: quote(name), Fault: "has no " + strings.Join(fields, " and no ") + " in its frames"})
	}
}

// sources lists the names that a channel may be taken from.
func (k *checker) sources() []string {
	names := slices.Clone(reserved)
	for _, in := range k.c.Instruments {
		names = append(names, in.Name)
	}
	for _, s := range k.c.Stations {
		names = append(names, s.Name)
	}
	return names
}
