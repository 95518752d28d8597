package frame

import (
	"bytes"
	"fmt"
	"strings"
)

// Checksum says how a line carries its check value: as hexadecimal digits at its end.
type Checksum struct {
	// Name is one of ChecksumNames; empty if the lines carry none.
	Name string
	// Marker stands between what is checked and the digits, such as "*" or the separator. It may be empty: the digits
	// then follow at once.
	Marker string
	// Skip is how many characters at the start of the line are not covered, such as 1 for a start character.
	Skip int
	// CoversMarker says that the marker is covered as well.
	CoversMarker bool
	// LowByteFirst says that the bytes of a value of more than one stand in that order.
	LowByteFirst bool
}

// checked is a lineParser for lines that carry a check value. What is inside it sees only what was checked.
type checked struct {
	inner lineParser
	sum   checksum
	rule  Checksum
}

func newChecked(inner lineParser, rule Checksum) (*checked, []error) {
	var problems []error
	sum, err := checksumNamed(rule.Name)
	if err != nil {
		problems = append(problems, err)
	}
	if rule.Skip < 0 || rule.Skip >= MaxLength {
		problems = append(problems, fmt.Errorf("checksum.skip: %d is outside 0 to %d", rule.Skip, MaxLength-1))
	}
	if len(rule.Marker) > 8 || strings.ContainsAny(rule.Marker, "\r\n\x000123456789abcdefABCDEF") {
		problems = append(problems, fmt.Errorf("checksum.marker: %q is too long, or holds a hexadecimal digit, a line end or a NUL", rule.Marker))
	}
	return &checked{inner, sum, rule}, problems
}

// parse implements lineParser. A frame that fails is attributed to nobody, since its address may be what is wrong.
func (c *checked) parse(f *Frame) (ignored bool) {
	whole := f.Raw
	digits := c.sum.width / 4
	at := len(whole) - digits - len(c.rule.Marker)
	if at < c.rule.Skip || !bytes.HasSuffix(whole[:len(whole)-digits], []byte(c.rule.Marker)) {
		c.inner.attribute(f, nil)
		f.refuse(c.refuseAbsent(whole))
		return false
	}
	sent, ok := parseHex(whole[len(whole)-digits:])
	if !ok {
		c.inner.attribute(f, nil)
		f.refuse(c.refuseAbsent(whole))
		return false
	}
	if c.rule.LowByteFirst {
		sent = swapBytes(sent, c.sum.width)
	}
	covered := at
	if c.rule.CoversMarker {
		covered += len(c.rule.Marker)
	}
	if computed := c.sum.of(whole[c.rule.Skip:covered]); computed != sent {
		c.inner.attribute(f, nil)
		f.refuse(refuseCheckValue(whole, c.sum, sent, computed))
		return false
	}
	f.Raw = whole[:at]
	ignored = c.inner.parse(f)
	f.Raw = whole
	return ignored
}

// attribute implements lineParser. Nothing of an unchecked line says whose it is.
func (c *checked) attribute(f *Frame, _ []byte) { c.inner.attribute(f, nil) }

// parseHex reads hexadecimal digits in either case, eight at most.
func parseHex(b []byte) (v uint32, ok bool) {
	for _, d := range b {
		switch {
		case d-'0' <= 9:
			v = v<<4 | uint32(d-'0')
		case d|0x20 >= 'a' && d|0x20 <= 'f':
			v = v<<4 | uint32(d|0x20-'a'+10)
		default:
			return 0, false
		}
	}
	return v, true
}

// swapBytes turns around the bytes of a value of that many bits.
func swapBytes(v uint32, width int) (swapped uint32) {
	for range width / 8 {
		swapped = swapped<<8 | v&0xFF
		v >>= 8
	}
	return swapped
}
