package frame

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"manobridge/convert"
)

// Binary describes frames of a fixed length that begin with the same bytes and carry a check value. Without one,
// bytes that happen to look like a start would give plausible wrong numbers.
type Binary struct {
	Sync   string // the bytes each frame begins with, in hexadecimal digits
	Length int    // of the whole frame in bytes
	Fields []BinaryField

	Checksum     string // one of ChecksumNames
	ChecksumAt   int    // where the check value stands
	ChecksumFrom int    // what it covers begins here, and ends before ChecksumAt
	LowByteFirst bool   // order of the bytes of the check value
}

// BinaryField is one value of a binary frame.
type BinaryField struct {
	Field string  // as in Options.Fields; an address is written in decimal digits
	At    int     // where it stands, counted from 0
	Type  string  // uint8, int8, uint16, int16, uint32, int32 or float32 (IEEE 754)
	Order string  // of its bytes: big, little, or, of four bytes, big-swapped and little-swapped: low word first
	Scale float64 // times the number is in the unit of the field's name; zero is refused
	// NoValue are what stands for "no value", in hexadecimal digits in the order sent.
	NoValue []string
}

// binaryDecoder finds frames by their first bytes and their check value.
type binaryDecoder struct {
	sync      []byte
	length    int
	fields    []binaryField
	addressed bool
	sum       checksum
	o         Binary
	maxGap    time.Duration

	in       []byte
	inAt     Stamp
	lastByte time.Duration
	gap      time.Duration // before in, where beyond maxGap and inside a frame

	buf    []byte  // what is looked at, at most length bytes
	at     []Stamp // of each byte of buf
	spent  int     // bytes of buf that the caller may still look at, and that are dropped then
	joined bool    // a good frame has been seen since the opening
	noisy  bool    // the rubbish before the next frame has been told of
	digits [20]byte

	passedOver uint64
}

type binaryField struct {
	kind  field
	at    int
	size  int
	form  byte // u, i or f
	order []int
	scale float64
	none  [][]byte
}

// Feed implements Decoder.
func (d *binaryDecoder) Feed(p []byte, at Stamp) {
	if len(p) == 0 {
		return
	}
	d.drop()
	if gap := at.Mono - d.lastByte; len(d.buf) > 0 && gap > d.maxGap {
		d.gap = gap
	}
	d.in, d.inAt, d.lastByte = p, at, at.Mono
}

// drop removes what the caller has looked at.
func (d *binaryDecoder) drop() {
	d.buf, d.at = append(d.buf[:0], d.buf[d.spent:]...), append(d.at[:0], d.at[d.spent:]...)
	d.spent = 0
}

// Next implements Decoder.
func (d *binaryDecoder) Next(f *Frame) bool {
	d.drop()
	if d.gap > 0 {
		*f = Frame{At: d.at[0], Raw: d.buf, Addressed: !d.addressed, Refusal: refusePaused(d.gap, d.maxGap)}
		d.gap, d.spent = 0, len(d.buf)
		if d.joined {
			return true
		}
		d.passedOver += uint64(d.spent)
		d.drop()
	}
	for {
		if len(d.buf) < d.length {
			if len(d.in) == 0 {
				return false
			}
			n := min(d.length-len(d.buf), len(d.in))
			d.buf = append(d.buf, d.in[:n]...)
			for range n {
				d.at = append(d.at, d.inAt)
			}
			d.in = d.in[n:]
		}
		if skip := d.start(); skip > 0 {
			d.spent = skip
			d.passedOver += uint64(skip)
			if d.joined && !d.noisy {
				d.noisy = true
				*f = Frame{At: d.at[0], Raw: d.buf[:skip], Addressed: !d.addressed,
					Refusal: refuseForm(d.buf[:skip], "stands between frames", fmt.Sprintf("frames that begin with %X", d.sync))}
				return true
			}
			d.drop()
			continue
		}
		if len(d.buf) < d.length {
			continue
		}
		if d.frame(f) {
			return true
		}
	}
}

// start says how many bytes come before the first possible start of a frame.
func (d *binaryDecoder) start() int {
	for i := range d.buf {
		n := min(len(d.sync), len(d.buf)-i)
		if bytes.Equal(d.buf[i:i+n], d.sync[:n]) {
			return i
		}
	}
	return len(d.buf)
}

// frame reads a frame of full length. One that fails its check may be a start that only looked like one, so the search
// goes on at its second byte; false if there is nothing to tell, because no frame has been seen yet.
func (d *binaryDecoder) frame(f *Frame) bool {
	raw := d.buf[:d.length]
	*f = Frame{At: d.at[0], Raw: raw, Addressed: !d.addressed}
	sent := raw[d.o.ChecksumAt : d.o.ChecksumAt+d.sum.width/8]
	var value uint32
	for _, b := range sent {
		value = value<<8 | uint32(b)
	}
	if d.o.LowByteFirst {
		value = swapBytes(value, d.sum.width)
	}
	if computed := d.sum.of(raw[d.o.ChecksumFrom:d.o.ChecksumAt]); computed != value {
		d.spent = 1
		if !d.joined || d.noisy {
			d.passedOver++
			d.drop()
			return false
		}
		d.noisy = true // what is passed over from here to the next frame belongs to this trouble
		f.refuse(refuseCheckValue(raw, d.sum, value, computed))
		return true
	}
	d.joined, d.noisy, d.spent = true, false, d.length
	for _, b := range d.fields {
		if !d.value(f, b) {
			return true
		}
	}
	return true
}

// value reads one field; false if it refuses the frame.
func (d *binaryDecoder) value(f *Frame, b binaryField) bool {
	sent := f.Raw[b.at : b.at+b.size]
	for _, none := range b.none {
		if bytes.Equal(sent, none) && b.kind.mayBeLost() {
			f.camera()
			return true
		}
		if bytes.Equal(sent, none) {
			f.refuse(refuseWord(b.kind, place{name: fmt.Sprintf("byte %d", b.at)}, fmt.Appendf(nil, "%X", sent)))
			return false
		}
	}
	var bitsOf uint32
	for _, i := range b.order {
		bitsOf = bitsOf<<8 | uint32(sent[i])
	}
	var v float64
	switch b.form {
	case 'u':
		v = float64(bitsOf)
	case 'i':
		shift := 32 - 8*b.size
		v = float64(int32(bitsOf<<shift) >> shift)
	case 'f':
		v = float64(math.Float32frombits(bitsOf))
	}
	if b.kind == address {
		f.Address, f.Addressed = strconv.AppendFloat(d.digits[:0], v, 'f', -1, 64), true
		return true
	}
	if v *= b.scale; math.IsNaN(v) || math.IsInf(v, 0) {
		f.refuse(&convert.Refusal{
			Code: convert.FrameNumber, Field: fieldInfos[b.kind].bench, Seen: fmt.Sprintf("is %v (%X at byte %d)", v, sent, b.at),
			Allowed: "a finite number", Check: "the digitizer, and type and order of the bytes in the configuration",
		})
		return false
	}
	f.set(b.kind, v)
	return true
}

// Reset implements Decoder.
func (d *binaryDecoder) Reset() (lost int) {
	d.drop()
	lost = len(d.buf)
	d.passedOver += uint64(lost)
	d.in, d.buf, d.at = nil, d.buf[:0], d.at[:0]
	d.gap, d.joined, d.noisy = 0, false, false
	return lost
}

// PassedOver implements Decoder.
func (d *binaryDecoder) PassedOver() uint64 { return d.passedOver }

// byteOrders gives where the bytes of a value stand, the most significant first.
var byteOrders = map[string][]int{
	"1/big": {0}, "1/little": {0}, "1/": {0},
	"2/big": {0, 1}, "2/little": {1, 0},
	"4/big": {0, 1, 2, 3}, "4/little": {3, 2, 1, 0}, "4/big-swapped": {2, 3, 0, 1}, "4/little-swapped": {1, 0, 3, 2},
}

var binarySizes = map[string]int{"uint8": 1, "int8": 1, "uint16": 2, "int16": 2, "uint32": 4, "int32": 4, "float32": 4}

func newBinary(o Options) (*binaryDecoder, []error) {
	var problems []error
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf("binary."+format, args...)) }
	b := o.Binary
	d := &binaryDecoder{length: b.Length, o: b, maxGap: o.MaxGap}
	var err error
	if d.sync, err = hex.DecodeString(strings.ReplaceAll(b.Sync, " ", "")); err != nil || len(d.sync) == 0 {
		bad("sync: %q is not bytes in hexadecimal digits", b.Sync)
	}
	if d.sum, err = checksumNamed(b.Checksum); err != nil {
		problems = append(problems, err)
	}
	if b.Length < 2 || b.Length > MaxLength || len(d.sync) >= b.Length {
		bad("length: %d bytes is outside 2 to %d, or no more than sync", b.Length, MaxLength)
	}
	if b.ChecksumFrom < 0 || b.ChecksumAt <= b.ChecksumFrom || b.ChecksumAt+d.sum.width/8 > b.Length {
		bad("checksum_at: %d does not lie in the frame behind checksum_from %d", b.ChecksumAt, b.ChecksumFrom)
	}
	names := make([]string, len(b.Fields))
	for i, spec := range b.Fields {
		names[i] = spec.Field
		f, errs := spec.compile(b.Length)
		problems = append(problems, errs...)
		d.fields = append(d.fields, f)
		d.addressed = d.addressed || f.kind == address
	}
	_, errs := parseFields(names, !o.ChannelsOnly)
	problems = append(problems, errs...)
	// The address first, so that what is wrong with another field is told of the right instrument.
	slices.SortStableFunc(d.fields, func(x, y binaryField) int { return boolOrder(y.kind == address) - boolOrder(x.kind == address) })
	return d, problems
}

// compile checks one field.
func (s BinaryField) compile(length int) (f binaryField, problems []error) {
	bad := func(format string, args ...any) {
		problems = append(problems, fmt.Errorf("binary.fields: %s: "+format, append([]any{s.Field}, args...)...))
	}
	f = binaryField{at: s.At, size: binarySizes[s.Type], scale: s.Scale}
	f.kind, _ = fieldNamed(s.Field) // an unknown one is reported with the others
	if f.size == 0 {
		bad("type %q is not uint8, int8, uint16, int16, uint32, int32 or float32", s.Type)
		return f, problems
	}
	f.form = s.Type[0]
	f.order = byteOrders[fmt.Sprintf("%d/%s", f.size, s.Order)]
	if f.order == nil {
		bad("order %q is none of %d bytes", s.Order, f.size)
	}
	if s.At < 0 || s.At+f.size > length {
		bad("at %d does not lie in the frame", s.At)
	}
	if f.kind == address && f.form != 'u' {
		bad("type %s cannot hold an address", s.Type)
	}
	if f.kind != address && (s.Scale == 0 || math.IsNaN(s.Scale) || math.IsInf(s.Scale, 0)) {
		bad("scale %v is not a factor", s.Scale)
	}
	for _, n := range s.NoValue {
		b, err := hex.DecodeString(n)
		if err == nil && len(b) != f.size {
			err = errors.New("another length")
		}
		if err != nil {
			bad("no_value %q is not %d bytes in hexadecimal digits", n, f.size)
		}
		f.none = append(f.none, b)
	}
	return f, problems
}
