package configs

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"manobridge/convert/quantity"
)

// Bounds are those of a limit in Pa, or in Pa/s for a rate. -Inf and +Inf where there is none.
type Bounds struct{ Low, High, Deadband float64 }

// Bounds works out the bounds of a limit that was loaded.
func (l *Limit) Bounds() Bounds {
	b := Bounds{Low: math.Inf(-1), High: math.Inf(1)}
	read := func(into *float64, text string, as func(string) (float64, string)) {
		if text != "" {
			*into, _ = as(text)
		}
	}
	switch {
	case l.KeepSign == "positive":
		b.Low = 0
	case l.KeepSign == "negative":
		b.High = 0
	case l.Rate != nil:
		read(&b.High, l.Rate.High, asRate)
		read(&b.Low, l.Rate.Low, asRate)
		read(&b.Deadband, l.Deadband, asRate)
		return b
	}
	read(&b.High, l.High, asPressure)
	read(&b.Low, l.Low, asPressure)
	read(&b.Deadband, l.Deadband, asPressure)
	return b
}

// Instruments are those whose results the limit needs.
func (l *Limit) Instruments() []string {
	if l.Difference != nil {
		return []string{l.Difference.Of, l.Difference.Less}
	}
	return []string{l.Of}
}

// asPressure reads a pressure in Pa; fault says why it cannot.
func asPressure(text string) (pa float64, fault string) {
	w, err := quantity.ParseDifferentialPressure(text)
	if err != nil {
		return math.NaN(), err.Error()
	}
	return w.SI, ""
}

// perTime are the units of time a rate may have, with their seconds. Exact by definition.
var perTime = map[string]float64{"s": 1, "min": 60, "h": 3600, "d": 86400}

// asRate reads a rate in Pa/s.
func asRate(text string) (paPerS float64, fault string) {
	amount, per, found := strings.Cut(text, "/")
	seconds := perTime[strings.TrimSpace(per)]
	if !found || seconds == 0 {
		return math.NaN(), "is not a pressure per s, min, h or d"
	}
	pa, fault := asPressure(strings.TrimSpace(amount))
	return pa / seconds, fault
}

func (k *checker) limits() {
	for i := range k.c.Limits {
		l := &k.c.Limits[i]
		path := join("limits", l.Name)
		if k.bad(path) {
			continue
		}
		k.limitOf(path, l)
		k.limitBounds(path, l)
		if l.Latch && l.AcknowledgeOnReturn {
			k.report(join(path, "acknowledge_on_return"), Problem{Fault: "contradicts latch, which waits for a person", Hint: "keep one of the two"})
		}
		if l.Door != nil {
			k.contact(join(path, "door.from"), l.Door.From)
		}
		if l.SuppressWhile != nil {
			k.contact(join(path, "suppress_while.from"), l.SuppressWhile.From)
		}
		if l.Reference == nil {
			k.remark(path, "has no reference: say which document the bound comes from, and its version")
		}
	}
}

// contact checks the name of what a contact is heard from.
func (k *checker) contact(path, name string) {
	if name == "" || k.bad(path) || k.bad("instruments") || k.bad("stations") {
		return
	}
	var names []string
	for _, one := range k.speakers() {
		if names = append(names, one.Name); one.Name != name {
			continue
		}
		if p := k.c.port(one.Port); p != nil && !k.unclear(p) && !p.Has("contact") {
			k.report(path, Problem{Seen: quote(name), Fault: "has no contact in its frames", Hint: "name the field contact, which is sent as 0 or 1"})
		}
		return
	}
	p := Problem{Seen: quote(name), Fault: "is not a station or an instrument"}
	if w := nearest(name, names); w != "" {
		p.Hint = fmt.Sprintf("did you mean %q?", w)
	}
	k.report(path, p)
}

// limitOf checks what is bounded.
func (k *checker) limitOf(path string, l *Limit) {
	k.oneOf(path, "of", "difference")
	if l.Of != "" {
		k.limited(join(path, "of"), l.Of)
	}
	d := l.Difference
	if d == nil {
		return
	}
	at := join(path, "difference")
	k.limited(join(at, "of"), d.Of)
	k.limited(join(at, "less"), d.Less)
	if d.Of != "" && d.Of == d.Less && !k.bad(join(at, "less")) {
		k.report(join(at, "less"), Problem{Seen: quote(d.Less), Fault: "is the same instrument", Hint: "a difference needs two"})
	}
	if a, b := k.kindOf(d.Of), k.kindOf(d.Less); a != "" && b != "" && (a == Sealed) != (b == Sealed) {
		k.report(at, Problem{Fault: "takes a differential from an absolute pressure, or the other way round", Hint: "both must be of one sort"})
	}
}

// limited checks the name of an instrument that a limit is about.
func (k *checker) limited(path, name string) {
	if name == "" || k.bad(path) || k.bad("instruments") {
		return
	}
	names := make([]string, len(k.c.Instruments))
	for i, in := range k.c.Instruments {
		if in.Name == name && in.Offline {
			k.report(path, Problem{Seen: quote(name), Fault: "is offline: its readings come from files, and nobody is there to be alarmed"})
			return
		}
		names[i] = in.Name
	}
	if slices.Contains(names, name) {
		return
	}
	p := Problem{Seen: quote(name), Fault: "is not an instrument under instruments"}
	if w := nearest(name, names); w != "" {
		p.Hint = fmt.Sprintf("did you mean %q?", w)
	}
	k.report(path, p)
}

func (k *checker) kindOf(name string) string {
	for i := range k.c.Instruments {
		if k.c.Instruments[i].Name == name {
			return k.c.Instruments[i].Geometry.Kind
		}
	}
	return ""
}

// limitBounds checks the numbers of a limit.
func (k *checker) limitBounds(path string, l *Limit) {
	ways := 0
	for _, key := range []string{"keep_sign", "rate"} {
		if k.stated(join(path, key)) {
			ways++
		}
	}
	bounded := k.stated(join(path, "high")) || k.stated(join(path, "low"))
	if bounded {
		ways++
	}
	switch {
	case ways == 0 && !k.bad(join(path, "high")) && !k.bad(join(path, "low")):
		k.report(join(path, "high"), Problem{Fault: "needed, and not stated", Hint: "state high, low or both, or keep_sign, or rate"})
		return
	case ways > 1:
		k.report(path, Problem{Fault: "bounds more than one thing", Hint: "make a limit each of the pressure, its sign and its rate"})
		return
	}
	as, base := asPressure, path
	if l.Rate != nil {
		as, base = asRate, join(path, "rate")
		if l.Rate.High == "" && l.Rate.Low == "" {
			k.missing(join(base, "high"), "state high, low or both, as \"5 Pa/min\"")
			return
		}
	}
	sound := true
	for _, one := range []struct{ path, text string }{{join(base, "high"), limitText(l, true)}, {join(base, "low"), limitText(l, false)}, {join(path, "deadband"), l.Deadband}} {
		if one.text == "" || k.bad(one.path) {
			continue
		}
		amount, _, _ := strings.Cut(one.text, "/")
		if w, err := quantity.ParseDifferentialPressure(strings.TrimSpace(amount)); err == nil && w.Assumption != "" {
			k.remark(one.path, w.Assumption)
		}
		if _, fault := as(one.text); fault != "" {
			k.report(one.path, Problem{Seen: quote(one.text), Fault: "cannot be taken: " + fault})
			sound = false
		}
	}
	if sound {
		k.limitSpan(path, base, l)
	}
}

// limitText is the text of a bound.
func limitText(l *Limit, high bool) string {
	switch {
	case l.Rate != nil && high:
		return l.Rate.High
	case l.Rate != nil:
		return l.Rate.Low
	case high:
		return l.High
	}
	return l.Low
}

// limitSpan holds the bounds against one another and against what the instrument can measure.
func (k *checker) limitSpan(path, base string, l *Limit) {
	b := l.Bounds()
	dead := join(path, "deadband")
	switch {
	case b.Low >= b.High:
		k.report(join(base, "low"), Problem{Seen: quote(limitText(l, false)), Fault: "is not below high", Hint: "what lies between the two is inside"})
		return
	case b.Deadband < 0:
		k.report(dead, Problem{Seen: quote(l.Deadband), Fault: "is negative", Hint: "it counts inwards from the bound"})
	case 2*b.Deadband >= b.High-b.Low:
		k.report(dead, Problem{Seen: quote(l.Deadband), Fault: "leaves nothing inside", Hint: "it counts inwards from both bounds"})
	case l.Deadband == "":
		k.remark(path, "has no deadband: a pressure at the bound makes the alarm chatter; a little more than the noise is usual")
	}
	if l.Rate != nil || l.Of == "" {
		return
	}
	for i := range k.c.Instruments {
		in := &k.c.Instruments[i]
		if in.Name != l.Of || in.RangePa == nil {
			continue
		}
		for _, v := range []float64{b.Low, b.High} {
			if !math.IsInf(v, 0) && (v < in.RangePa[0] || v > in.RangePa[1]) {
				k.remark(path, fmt.Sprintf("a bound of %s is outside the range of %s, %s to %s", withUnit(v, "Pa"), in.Name, number(in.RangePa[0]), withUnit(in.RangePa[1], "Pa")))
			}
		}
	}
}
