package frame

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"manobridge/convert"
)

// errorWords are what digitizers and meters commonly send for "no value", upper case. Common practice, no source.
// Beside them, text of nothing but dashes, stars, question marks and points, such as "--.-", counts as one.
var errorWords = []string{"OVER", "UNDER", "OL", "UL", "OFL", "ERR", "ERROR", "FAIL", "FAULT", "N/A", "NA", "NULL", "NONE", "INVALID", "LOST"}

// numbers reads the text of a field into a frame, by what the configuration says of numbers.
type numbers struct {
	mark      byte // decimal mark
	words     []string
	sentinels []string // numbers that stand for "no value", as sent
	suffixes  [fieldCount][]string
}

// place says where a field stands: the i-th of n, or under a name.
type place struct {
	i, n int
	name string
}

func (p place) String() string {
	if p.name != "" {
		return fmt.Sprintf("(at %s)", quote([]byte(p.name)))
	}
	return fmt.Sprintf("(field %d of %d)", p.i, p.n)
}

// put reads the text of one field into f. Where it cannot, it refuses f and returns false.
func (r *numbers) put(f *Frame, kind field, text []byte, at place) bool {
	if kind == skip {
		return true
	}
	var refusal *convert.Refusal
	v, rest, bad := 0.0, []byte(nil), sound
	switch {
	case len(text) == 0:
		refusal = refuseEmpty(kind, at)
	case kind == address:
		f.Address, f.Addressed = text, true
		return true
	case len(r.sentinels) > 0 && slices.Contains(r.sentinels, string(text)):
		refusal = refuseWord(kind, at, text)
	default:
		v, rest, bad = parseNumber(text, r.mark)
		if bad == sound && len(rest) > 0 && !r.suffix(kind, rest) {
			bad = notNumber
		}
		switch {
		case bad != sound:
			refusal = r.refuseNumber(kind, at, text, bad)
		case kind == contact && v != 0 && v != 1:
			refusal = refuseContact(at, text)
		}
	}
	if refusal != nil && kind.mayBeLost() && (len(text) == 0 || refusal.Code == convert.FrameErrorWord) {
		f.camera() // the rest of the image still tells
		return true
	}
	if refusal != nil {
		f.refuse(refusal)
		return false
	}
	f.set(kind, v)
	return true
}

// refuse sets the refusal and removes the values, so that a refused frame holds none.
func (f *Frame) refuse(r *convert.Refusal) {
	*f = Frame{At: f.At, Raw: f.Raw, Address: f.Address, Addressed: f.Addressed, Refusal: r}
}

// suffix tells whether what follows a number is the unit of its field.
func (r *numbers) suffix(kind field, rest []byte) bool {
	for len(rest) > 0 && rest[0] == ' ' {
		rest = rest[1:]
	}
	for _, s := range r.suffixes[kind] {
		if string(rest) == s {
			return true
		}
	}
	return false
}

// errorWord tells whether the text is a word for "no value".
func (r *numbers) errorWord(text []byte) bool {
	if len(text) > 1 && bytes.ContainsAny(text, "-*?_") && len(bytes.Trim(text, "-*?_.")) == 0 {
		return true
	}
	for _, w := range r.words {
		if strings.EqualFold(w, string(text)) {
			return true
		}
	}
	return false
}
