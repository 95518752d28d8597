package configs

import (
	"fmt"
	"strconv"
	"strings"
)

// binary holds the places in a frame against its length, so that no value is read from beyond it.
func (k *checker) binary(path string, b *Binary) {
	if b == nil || k.bad(path) {
		return
	}
	length := join(path, "length")
	if start := hexBytes(b.Start); !k.bad(join(path, "start")) && !k.bad(length) && start >= b.Length {
		k.report(length, Problem{Seen: strconv.Itoa(b.Length), Fault: fmt.Sprintf("leaves no room behind the %d bytes of start", start)})
	}
	sum := join(path, "checksum")
	if width := checksumBytes(b.Checksum.Name); width > 0 && !k.touched(sum) {
		if b.Checksum.At <= b.Checksum.From {
			k.report(join(sum, "at"), Problem{Seen: strconv.Itoa(b.Checksum.At), Fault: fmt.Sprintf("is not behind from, which is %d", b.Checksum.From), Hint: "nothing would be covered"})
		} else {
			k.inside(join(sum, "at"), b.Checksum.At, width, b.Length, length)
		}
	}
	for i := range b.Fields {
		k.binaryField(fmt.Sprintf("%s[%d]", join(path, "fields"), i), &b.Fields[i], b.Length, length)
	}
}

// inside reports a value that does not lie in the frame.
func (k *checker) inside(at string, from, size, length int, lengthPath string) {
	if !k.bad(at) && !k.bad(lengthPath) && from+size > length {
		k.report(at, Problem{Seen: strconv.Itoa(from), Fault: fmt.Sprintf("with %d bytes reaches beyond the frame of %d bytes", size, length), Hint: "the first byte is 0"})
	}
}

func (k *checker) binaryField(path string, f *BinaryField, length int, lengthPath string) {
	if k.touched(path) {
		return
	}
	size := typeBytes(f.Type)
	k.inside(join(path, "at"), f.At, size, length, lengthPath)
	switch order := join(path, "order"); {
	case f.Order == "" && size > 1:
		k.missing(order, fmt.Sprintf("big or little: which of the %d bytes comes first", size))
	case size == 1 && f.Order != "" && f.Order != "big" && f.Order != "little", size == 2 && strings.HasSuffix(f.Order, "-swapped"):
		k.report(order, Problem{Seen: quote(f.Order), Fault: "is for four bytes, and " + f.Type + " is fewer"})
	}
	scale := join(path, "scale")
	switch {
	case f.Field == "address" && !strings.HasPrefix(f.Type, "uint"):
		k.report(join(path, "type"), Problem{Seen: quote(f.Type), Fault: "cannot hold an address; it needs", Allowed: "uint8, uint16 or uint32"})
	case f.Field == "address" && f.Scale != nil:
		k.report(scale, Problem{Fault: "is not used by an address"})
	case f.Field != "address" && f.Scale == nil:
		k.missing(scale, "what makes "+f.Field+" of the number: 1 where it is sent in that unit, 0.01 for hundredths")
	case f.Scale != nil && *f.Scale == 0:
		k.report(scale, Problem{Seen: "0", Fault: "would make every value 0"})
	}
	for i, none := range f.NoValue {
		if n := hexBytes(none); n != size {
			k.report(fmt.Sprintf("%s[%d]", join(path, "no_value"), i), Problem{Seen: quote(none), Fault: fmt.Sprintf("has %d bytes, %s has %d", n, f.Type, size)})
		}
	}
}

// hexBytes counts the bytes of hexadecimal digits.
func hexBytes(s string) int { return len(strings.ReplaceAll(s, " ", "")) / 2 }

// typeBytes is the size of a type, whose name ends in its bits.
func typeBytes(name string) int {
	bits, _ := strconv.Atoi(strings.TrimLeft(name, "abcdefghijklmnopqrstuvwxyz"))
	return bits / 8
}

// checksumBytes is the size of a check value: the bits in its name, before any stroke. It is 0 where there is no name.
func checksumBytes(name string) int {
	family, _, _ := strings.Cut(name, "/")
	bits, _ := strconv.Atoi(family[strings.LastIndexByte(family, '-')+1:])
	return bits / 8
}
