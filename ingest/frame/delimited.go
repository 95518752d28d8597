package frame

import "bytes"

// maxFields bounds the fields of a line.
const maxFields = 64

// delimited reads lines of fields with a separator between them.
type delimited struct {
	fields    []field
	addressAt int // -1: none
	separator []byte
	blanks    bool // the separator is any run of spaces and tabs
	numbers

	spans [maxFields]span // of the line being read
}

// span is where a field lies in the line.
type span struct{ from, to int }

// parse implements lineParser.
func (d *delimited) parse(f *Frame) (ignored bool) {
	n := d.split(f.Raw)
	if n > d.addressAt {
		d.takeAddress(f, f.Raw)
	}
	if n != len(d.fields) {
		f.refuse(d.refuseCount(f.Raw, n))
		return false
	}
	for i, kind := range d.fields {
		if !d.put(f, kind, f.Raw[d.spans[i].from:d.spans[i].to], place{i: i + 1, n: n}) {
			return false
		}
	}
	return false
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
