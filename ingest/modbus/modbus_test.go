package modbus

import (
	"bytes"
	"encoding/hex"
	"errors"
	"math"
	"testing"
)

func bytesOf(t testing.TB, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(text)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The check value of the nine characters 123456789 is 4B37 (G. Cook, Catalogue of parametrised CRC algorithms,
// CRC-16/MODBUS); that of 02 07 is 1241, sent 41 12 (Modbus over Serial Line V1.02, 6.2.2).
func TestCheckValue(t *testing.T) {
	if got := crc([]byte("123456789")); got != 0x4B37 {
		t.Errorf("got %04X, want 4B37 (catalogue of CRC algorithms)", got)
	}
	if got := crc([]byte{2, 7}); got != 0x1241 {
		t.Errorf("got %04X, want 1241 (serial line guide, 6.2.2)", got)
	}
}

// 01 03 00 00 00 02 C4 0B is the usual worked example of a question for two registers (common practice, no source).
func TestQuestion(t *testing.T) {
	got := Question{Unit: 1, Function: ReadHolding, Count: 2}.Append(nil)
	if want := bytesOf(t, "010300000002c40b"); !bytes.Equal(got, want) {
		t.Errorf("got % X, want % X", got, want)
	}
	for _, q := range []Question{
		{Unit: 0, Function: 3, Count: 1}, {Unit: 248, Function: 3, Count: 1}, {Unit: 1, Function: 6, Count: 1}, {Unit: 1, Function: 3},
		{Unit: 1, Function: 3, Count: 126}, {Unit: 1, Function: 3, First: 65535, Count: 2},
	} {
		if q.Validate() == nil {
			t.Errorf("%+v: got it taken, want it refused", q)
		}
	}
	if err := (Question{Unit: 247, Function: 4, First: 65535, Count: 1}).Validate(); err != nil {
		t.Errorf("got %v, want the outermost question taken", err)
	}
}

// The data of the answer is that of the worked example of function 03: registers 108 to 110 hold 022B, 0000, 0064
// (Modbus Application Protocol V1.1b3, 6.3).
func TestAnswer(t *testing.T) {
	q := Question{Unit: 17, Function: ReadHolding, First: 107, Count: 3}
	seal := func(text string) []byte {
		b := bytesOf(t, text)
		c := crc(b)
		return append(b, byte(c), byte(c>>8))
	}
	good := seal("110306022b00000064")
	for n := range good {
		want := 0
		if n >= 3 {
			want = len(good)
		}
		if got, err := q.Length(good[:n]); err != nil || got != want {
			t.Errorf("after %d bytes: got length %d, %v, want %d", n, got, err, want)
		}
	}
	if data, err := q.Registers(good); err != nil || !bytes.Equal(data, bytesOf(t, "022b00000064")) {
		t.Errorf("got % X, %v, want 02 2B 00 00 00 64 (application protocol, 6.3)", data, err)
	}
	flipped := bytes.Clone(good)
	flipped[4] ^= 0x10
	for _, c := range []struct {
		name   string
		answer []byte
		want   Fault
	}{
		{"one bit flipped", flipped, Damaged},
		{"another unit", seal("120306022b00000064"), Foreign},
		{"another function", seal("110406022b00000064"), Unfit},
		{"another count", seal("110304022b0000"), Unfit},
		{"cut short", good[:8], Unfit},
		{"too long", append(bytes.Clone(good), 0), Unfit},
		{"illegal data address", seal("118302"), Exception},
		{"exception of another function", seal("118402"), Unfit},
		{"nothing", nil, Unfit},
	} {
		data, err := q.Registers(c.answer)
		var e *Error
		if !errors.As(err, &e) || e.Fault != c.want || data != nil {
			t.Errorf("%s: got % X, %v, want fault %d", c.name, data, err, c.want)
		}
	}
}

// 12.5 = 1.1001b × 2³ is 41480000 (IEEE 754, single precision).
func TestOrders(t *testing.T) {
	for order, sent := range map[string]string{"ABCD": "41480000", "CDAB": "00004148", "BADC": "48410000", "DCBA": "00004841"} {
		r := Register{Function: ReadHolding, Type: "float32", Order: order, Scale: 1}
		if got, err := r.Value(bytesOf(t, sent)); err != nil || got != 12.5 {
			t.Errorf("%s: got %v, %v, want 12.5 (IEEE 754)", order, got, err)
		}
		r.Type = "int32"
		if got, err := r.Value(bytesOf(t, sent)); err != nil || got != 0x41480000 {
			t.Errorf("%s: got %v, %v, want 0x41480000", order, got, err)
		}
	}
}

// Two's complement, and unsigned beside it.
func TestIntegers(t *testing.T) {
	for _, c := range []struct {
		typ, order, sent string
		scale, offset    float64
		want             float64
	}{
		{"int16", "", "fffe", 1, 0, -2}, {"uint16", "", "fffe", 1, 0, 65534}, {"int16", "", "04ce", 0.125, -10, 143.75},
		{"int32", "ABCD", "fffffffe", 1, 0, -2}, {"uint32", "ABCD", "fffffffe", 1, 0, 4294967294}, {"uint32", "CDAB", "00020001", 1, 0, 65538},
	} {
		r := Register{Function: ReadInput, Type: c.typ, Order: c.order, Scale: c.scale, Offset: c.offset}
		if err := r.Validate(); err != nil {
			t.Errorf("%+v: %v", r, err)
		}
		if got, err := r.Value(bytesOf(t, c.sent)); err != nil || got != c.want {
			t.Errorf("%s %s: got %v, %v, want %v", c.typ, c.sent, got, err, c.want)
		}
	}
}

func TestNoValueIsNeverANumber(t *testing.T) {
	for _, c := range []struct {
		r    Register
		sent string
	}{
		{Register{Type: "int16", Scale: 0.01, NoValue: []string{"8000", "7FFF"}}, "7fff"},
		{Register{Type: "float32", Order: "ABCD", Scale: 1}, "7fc00000"},
		{Register{Type: "float32", Order: "CDAB", Scale: 1}, "0000ff80"},
		{Register{Type: "float32", Order: "CDAB", Scale: 1, NoValue: []string{"3c00c61c"}}, "3c00c61c"},
		{Register{Type: "float32", Order: "ABCD", Scale: 1}, "4148"},
	} {
		got, err := c.r.Value(bytesOf(t, c.sent))
		var none *NoValueError
		if !errors.As(err, &none) || got != 0 {
			t.Errorf("%s: got %v, %v, want no value", c.sent, got, err)
		}
	}
}

func TestRegisterRefuses(t *testing.T) {
	ok := Register{Function: ReadHolding, Type: "float32", Order: "CDAB", Scale: 1}
	if err := ok.Validate(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Register){
		"type": func(r *Register) { r.Type = "float64" }, "order": func(r *Register) { r.Order = "" }, "scale": func(r *Register) { r.Scale = 0 },
		"offset": func(r *Register) { r.Offset = math.NaN() }, "function": func(r *Register) { r.Function = 16 }, "end": func(r *Register) { r.At = 65535 },
		"no_value": func(r *Register) { r.NoValue = []string{"8000"} }, "order of one": func(r *Register) { r.Type = "int16" },
	} {
		r := ok
		change(&r)
		if r.Validate() == nil {
			t.Errorf("%s: got %+v taken, want it refused", name, r)
		}
	}
}

// Whatever comes, it is a whole answer to the question with a check value that fits, or an error; and the length is
// never told before it is known nor changed after.
func FuzzAnswer(f *testing.F) {
	for _, seed := range []string{"010304414800007A2E", "018302C0F1", "0103", "", "0203044148000000"} {
		b, err := hex.DecodeString(seed)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint8(1), uint8(2), b)
	}
	f.Fuzz(func(t *testing.T, unit, count uint8, answer []byte) {
		q := Question{Unit: unit, Function: ReadHolding, Count: int(count%MaxRegisters) + 1}
		known := 0
		for i := range answer {
			n, err := q.Length(answer[:i+1])
			if err != nil {
				break
			}
			if known != 0 && n != known || n > 255 {
				t.Fatalf("after %d bytes: got length %d, was %d", i+1, n, known)
			}
			known = n
		}
		data, err := q.Registers(answer)
		if err == nil && (len(data) != 2*q.Count || crc(answer) != 0) { // a message with its check value behind it leaves 0
			t.Fatalf("got % X of % X, want it refused", data, answer)
		}
		r := Register{Type: "float32", Order: "BADC", Scale: 1}
		if len(data) >= 4 {
			if v, err := r.Value(data[:4]); err == nil && !finite(v) {
				t.Fatalf("got %v as a value", v)
			}
		}
	})
}
