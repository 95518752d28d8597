package frame

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// checksum is a named check value with everything that makes it up. A cyclic one has the parameters of the Rocksoft
// model (R. N. Williams, A Painless Guide to CRC Error Detection Algorithms, 1993, chapter 15).
type checksum struct {
	name    string
	width   int // bits: 8, 16 or 32
	kind    checksumKind
	poly    uint32
	init    uint32
	reflect bool // of input and output; the algorithms here have both or neither
	xorOut  uint32
	check   uint32 // of the nine characters 123456789

	table *[256]uint32
}

type checksumKind uint8

const (
	cyclic checksumKind = iota
	xorSum
	plainSum
	twosComplement // of the sum: all bytes and the check value add up to zero
)

// checksums are those that can be named. Parameters and check values of the cyclic ones: G. Cook, Catalogue of
// parametrised CRC algorithms, under the same names (maxim: MAXIM-DOW; x-25: IBM-SDLC; crc-32: ISO-HDLC). The others
// follow from their definition: the characters 31 to 39 in hexadecimal add up to 1DD and have the exclusive or 31.
var checksums = []checksum{
	{name: "xor-8", width: 8, kind: xorSum, check: 0x31},
	{name: "sum-8", width: 8, kind: plainSum, check: 0xDD},
	{name: "sum-16", width: 16, kind: plainSum, check: 0x1DD},
	{name: "twos-complement-8", width: 8, kind: twosComplement, check: 0x23},
	{name: "crc-8/smbus", width: 8, poly: 0x07, check: 0xF4},
	{name: "crc-8/maxim", width: 8, poly: 0x31, reflect: true, check: 0xA1},
	{name: "crc-16/modbus", width: 16, poly: 0x8005, init: 0xFFFF, reflect: true, check: 0x4B37},
	{name: "crc-16/arc", width: 16, poly: 0x8005, reflect: true, check: 0xBB3D},
	{name: "crc-16/ibm-3740", width: 16, poly: 0x1021, init: 0xFFFF, check: 0x29B1},
	{name: "crc-16/xmodem", width: 16, poly: 0x1021, check: 0x31C3},
	{name: "crc-16/kermit", width: 16, poly: 0x1021, reflect: true, check: 0x2189},
	{name: "crc-16/x-25", width: 16, poly: 0x1021, init: 0xFFFF, reflect: true, xorOut: 0xFFFF, check: 0x906E},
	{name: "crc-16/genibus", width: 16, poly: 0x1021, init: 0xFFFF, xorOut: 0xFFFF, check: 0xD64E},
	{name: "crc-32", width: 32, poly: 0x04C11DB7, init: 0xFFFFFFFF, reflect: true, xorOut: 0xFFFFFFFF, check: 0xCBF43926},
}

// ChecksumNames gives the names a checksum may have.
func ChecksumNames() []string {
	names := make([]string, len(checksums))
	for i, c := range checksums {
		names[i] = c.name
	}
	return names
}

// ChecksumDigits gives how many hexadecimal digits a check value of that name has; 0 for a name that is not known.
func ChecksumDigits(name string) int {
	i := slices.IndexFunc(checksums, func(c checksum) bool { return c.name == name })
	if i < 0 {
		return 0
	}
	return checksums[i].width / 4
}

// checksumNamed finds a checksum and has it prove itself on its check value.
func checksumNamed(name string) (checksum, error) {
	i := slices.IndexFunc(checksums, func(c checksum) bool { return c.name == strings.ToLower(name) })
	if i < 0 {
		if strings.Contains(strings.ToLower(name), "ccitt") {
			return checksum{}, fmt.Errorf("checksum: %q is the name of several that differ in start value and bit order; "+
				"find out whether the digitizer's value for the characters 123456789 is 29B1 (crc-16/ibm-3740), 31C3 (crc-16/xmodem), "+
				"2189 (crc-16/kermit), 906E (crc-16/x-25) or D64E (crc-16/genibus)", name)
		}
		return checksum{}, fmt.Errorf("checksum: %q is not known; known: %s", name, strings.Join(ChecksumNames(), ", "))
	}
	c := checksums[i]
	if c.kind == cyclic {
		c.table = c.makeTable()
	}
	if got := c.of([]byte("123456789")); got != c.check {
		return checksum{}, fmt.Errorf("checksum: %s gives %X for 123456789 instead of %X: this program is broken", c.name, got, c.check)
	}
	return c, nil
}

// mask has a one in every bit of the check value.
func (c checksum) mask() uint32 { return uint32(uint64(1)<<c.width - 1) }

// makeTable computes the effect of each byte value.
func (c checksum) makeTable() *[256]uint32 {
	var t [256]uint32
	poly, top := c.poly, uint32(1)<<(c.width-1)
	if c.reflect {
		poly = bits.Reverse32(c.poly) >> (32 - c.width)
	}
	for i := range t {
		r := uint32(i)
		if !c.reflect {
			r <<= c.width - 8
		}
		for range 8 {
			switch {
			case c.reflect && r&1 != 0:
				r = r>>1 ^ poly
			case c.reflect:
				r >>= 1
			case r&top != 0:
				r = r<<1 ^ poly
			default:
				r <<= 1
			}
		}
		t[i] = r & c.mask()
	}
	return &t
}

// of gives the check value of b.
func (c checksum) of(b []byte) uint32 {
	var r uint32
	switch c.kind {
	case xorSum:
		for _, v := range b {
			r ^= uint32(v)
		}
	case plainSum, twosComplement:
		for _, v := range b {
			r += uint32(v)
		}
		if c.kind == twosComplement {
			r = -r
		}
	case cyclic:
		r = c.init // all ones or zero here, the same read from either end
		for _, v := range b {
			if c.reflect {
				r = r>>8 ^ c.table[byte(r)^v]
			} else {
				r = (r<<8 ^ c.table[byte(r>>(c.width-8))^v]) & c.mask()
			}
		}
		r ^= c.xorOut
	}
	return r & c.mask()
}
