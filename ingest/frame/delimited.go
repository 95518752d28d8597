package frame

import (
	"bytes"
	"slices"
	"strings"
)

// maxFields bounds the fields of a line.
const maxFields = 64

// errorWords are what digitizers and meters commonly send for "no value", upper case. Common practice, no source.
// Beside them, text of nothing but dashes, stars, question marks and points, such as "--.-", counts as one.
var errorWords = []string{"OVER", "UNDER", "OL", "UL", "OFL", "ERR", "ERROR", "FAIL", "FAULT", "N/A", "NA", "NULL", "NONE", "INVALID", "LOST"}

// delimited reads lines of fields with a separator between them.
type delimited struct {
	fields    []field
	addressAt int // -1: none
	separator []byte
	blanks    bool // the separator is any run of spaces and tabs
	mark      byte // decimal mark
	words     []string
	sentinels []string // numbers that stand for "no value", as sent
	suffixes  [fieldCount][]string

	spans [maxFields]span // of the line being read
}

// span is where a field lies in the line.
type span struct{ from, to int }

// parse implements lineParser.
func (d *delimited) parse(f *Frame) {
	n := d.split(f.Raw)
	if n > d.addressAt {
		d.takeAddress(f, f.Raw)
	}
	if n != len(d.fields) {
		f.Refusal = d.refuseCount(f.Raw, n)
		return
	}
	for i, kind := range d.fields {
		if kind == skip {
			continue
		}
		text := f.Raw[d.spans[i].from:d.spans[i].to]
		if len(text) == 0 {
			f.Refusal = refuseEmpty(kind, i, n)
			f.clear()
			return
		}
		if kind == address {
			continue
		}
		if len(d.sentinels) > 0 && slices.Contains(d.sentinels, string(text)) {
			f.Refusal = d.refuseWord(kind, i, text)
			f.clear()
			return
		}
		v, rest, bad := parseNumber(text, d.mark)
		if bad == sound && len(rest) > 0 && !d.suffix(kind, rest) {
			bad = notNumber
		}
		if bad != sound {
			f.Refusal = d.refuseNumber(kind, i, text, bad)
			f.clear()
			return
		}
		f.set(kind, v)
	}
}

// clear removes the values, so that a refused frame holds none.
func (f *Frame) clear() {
	*f = Frame{At: f.At, Raw: f.Raw, Address: f.Address, Addressed: f.Addressed, Refusal: f.Refusal}
}

// attribute implements lineParser. The address counts only if a separator follows it: otherwise some of it may be
// missing.
func (d *delimited) attribute(f *Frame, raw []byte) {
	if d.addressAt < 0 || d.split(raw) > d.addressAt+1 {
		d.takeAddress(f, raw)
	}
}

// takeAddress fills in the address from a line that was split.
func (d *delimited) takeAddress(f *Frame, raw []byte) {
	f.Addressed = true
	if d.addressAt >= 0 {
		s := d.spans[d.addressAt]
		f.Address = raw[s.from:s.to]
		f.Addressed = s.to > s.from
	}
}

// split fills in the spans, blanks around each field left out, and returns how many fields the line has. Fields beyond
// maxFields are counted only.
func (d *delimited) split(raw []byte) (n int) {
	if d.blanks {
		return d.splitBlanks(raw)
	}
	from := 0
	for {
		to := len(raw)
		next := bytes.Index(raw[from:], d.separator)
		if next >= 0 {
			to = from + next
		}
		if n < maxFields {
			d.spans[n] = trim(raw, from, to)
		}
		n++
		if next < 0 {
			return n
		}
		from = to + len(d.separator)
	}
}

// splitBlanks does it for a separator that is any run of spaces and tabs.
func (d *delimited) splitBlanks(raw []byte) (n int) {
	for i := 0; i < len(raw); {
		if blank(raw[i]) {
			i++
			continue
		}
		from := i
		for i < len(raw) && !blank(raw[i]) {
			i++
		}
		if n < maxFields {
			d.spans[n] = span{from, i}
		}
		n++
	}
	return n
}

func blank(c byte) bool { return c == ' ' || c == '\t' }

// trim leaves out the blanks at both ends.
func trim(raw []byte, from, to int) span {
	for from < to && blank(raw[from]) {
		from++
	}
	for from < to && blank(raw[to-1]) {
		to--
	}
	return span{from, to}
}

// suffix tells whether what follows a number is the unit of its field.
func (d *delimited) suffix(kind field, rest []byte) bool {
	for len(rest) > 0 && rest[0] == ' ' {
		rest = rest[1:]
	}
	for _, s := range d.suffixes[kind] {
		if string(rest) == s {
			return true
		}
	}
	return false
}

// errorWord tells whether the text is a word for "no value".
func (d *delimited) errorWord(text []byte) bool {
	if len(text) > 1 && bytes.ContainsAny(text, "-*?_") && len(bytes.Trim(text, "-*?_.")) == 0 {
		return true
	}
	for _, w := range d.words {
		if strings.EqualFold(w, string(text)) {
			return true
		}
	}
	return false
}
