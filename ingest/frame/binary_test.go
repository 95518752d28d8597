package frame_test

import (
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/ingest/frame"
)

// packed is a binary format: two bytes of start, address, position in mm, temperature in tenths of a degree with a
// value for "none", and a check value sent low byte first.
var packed = frame.Options{Format: "binary", Binary: frame.Binary{
	Sync: "AA 55", Length: 11, Checksum: "crc-16/modbus", ChecksumAt: 9, LowByteFirst: true,
	Fields: []frame.BinaryField{
		{Field: "low_mm", At: 3, Type: "float32", Order: "big", Scale: 1},
		{Field: "temperature_c", At: 7, Type: "int16", Order: "little", Scale: 0.1, NoValue: []string{"0080"}},
		{Field: "address", At: 2, Type: "uint8"},
	},
}}

// Frames packed and checked by a separate program (struct module of Python; shift-and-subtract CRC of the Modbus over
// serial line specification, V1.02, 6.2.2). 41480000 is 12.5 and BE800000 -0.25 in IEEE 754.
const (
	goodFrame  = "aa550241480000d500db1b" // 2, 12.5 mm, 21.3 °C
	belowFrame = "aa5502be800000fbff7324" // 2, -0.25 mm, -0.5 °C
	noneFrame  = "aa550341480000008094eb" // 3, 12.5 mm, no temperature
	nanFrame   = "aa55027fc00000d5003fda" // 2, NaN, 21.3 °C
)

// bytesOf turns hexadecimal digits into the bytes of a line.
func bytesOf(t testing.TB, digits ...string) string {
	t.Helper()
	b, err := hex.DecodeString(strings.Join(digits, ""))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// told gives one word for each frame: its position in mm, or its code.
func told(frames []frame.Frame) (words []string) {
	for _, f := range frames {
		word := fmt.Sprintf("%s: %.4g", f.Address, f.Low.V.Millimetres())
		if f.Refusal != nil {
			word = fmt.Sprintf("%s: %s", f.Address, f.Refusal.Code)
		}
		words = append(words, word)
	}
	return words
}

func TestBinaryFrames(t *testing.T) {
	broken := strings.Replace(goodFrame, "4148", "4149", 1)
	for _, tt := range []struct {
		name  string
		input []string
		want  []string
	}{
		{"good", []string{goodFrame, belowFrame}, []string{"2: 12.5", "2: -0.25"}},
		{"no value", []string{noneFrame}, []string{"3: frame-error-word"}},
		{"not a number", []string{nanFrame}, []string{"2: frame-number"}},
		{"joined in the middle", []string{goodFrame[6:], goodFrame}, []string{"2: 12.5"}},
		{"noise before the first", []string{"00112233aaaa", goodFrame}, []string{"2: 12.5"}},
		{"noise between", []string{goodFrame, "00aa1122", strings.Repeat("77", 40), goodFrame}, []string{"2: 12.5", ": frame-format", "2: 12.5"}},
		{"broken", []string{goodFrame, broken, belowFrame}, []string{"2: 12.5", ": frame-checksum", "2: -0.25"}},
		{"start inside noise", []string{goodFrame, "aa55", goodFrame}, []string{"2: 12.5", ": frame-checksum", "2: 12.5"}},
		{"byte lost", []string{goodFrame, goodFrame[:18], goodFrame, belowFrame}, []string{"2: 12.5", ": frame-checksum", "2: 12.5", "2: -0.25"}},
	} {
		for _, size := range []int{1, 4, 1000} {
			d := decoder(t, packed)
			var got []string
			for rest := bytesOf(t, tt.input...); rest != ""; {
				n := min(size, len(rest))
				got = append(got, told(feed(d, rest[:n], 0))...)
				rest = rest[n:]
			}
			if !slices.Equal(got, tt.want) {
				t.Errorf("%s in pieces of %d: got %q, want %q", tt.name, size, got, tt.want)
			}
		}
	}
	f := feed(decoder(t, packed), bytesOf(t, goodFrame), 0)[0]
	if !near(f.Temperature.V.Celsius(), 21.3) || !f.Addressed || hex.EncodeToString(f.Raw) != goodFrame {
		t.Errorf("got %v °C of %x, want 21.3 °C of %s", f.Temperature.V.Celsius(), f.Raw, goodFrame)
	}
}

func TestBinaryTimes(t *testing.T) {
	d := decoder(t, packed)
	whole := bytesOf(t, goodFrame, goodFrame)
	var got []frame.Frame
	for i, piece := range []string{whole[:5], whole[5:14], whole[14:]} {
		got = append(got, feed(d, piece, time.Duration(i)*time.Second)...)
	}
	if len(got) != 2 || got[0].At.Mono != 0 || got[1].At.Mono != time.Second {
		t.Errorf("got %+v, want frames of 0 s and 1 s", got)
	}
	// A pause inside a frame: its beginning is refused, and what follows stands for itself.
	feed(d, whole[:5], 3*time.Second)
	got = feed(d, whole[:11], 9*time.Second)
	if want := []string{": frame-format", "2: 12.5"}; !slices.Equal(told(got), want) || got[1].At.Mono != 9*time.Second {
		t.Errorf("got %q, want %q", told(got), want)
	}
	feed(d, whole[:5], 10*time.Second)
	if lost := d.Reset(); lost != 5 {
		t.Errorf("lost: got %d bytes, want 5", lost)
	}
}

// The same four bytes in every order: 12.5 is 41480000 (IEEE 754). Digitizers use all four.
func TestBinaryOrders(t *testing.T) {
	for order, sent := range map[string]string{"big": "41480000", "little": "00004841", "big-swapped": "00004148", "little-swapped": "48410000"} {
		o := frame.Options{Format: "binary", Binary: frame.Binary{Sync: "01", Length: 6, Checksum: "xor-8", ChecksumAt: 5,
			Fields: []frame.BinaryField{{Field: "low_mm", At: 1, Type: "float32", Order: order, Scale: 1}}}}
		// The exclusive or of 01, 41 and 48 is 08 in any order.
		got := feed(decoder(t, o), bytesOf(t, "01", sent, "08"), 0)
		if len(got) != 1 || got[0].Refusal != nil || got[0].Low.V.Millimetres() != 12.5 || !got[0].Addressed {
			t.Errorf("%s: got %+v, want 12.5 mm", order, got)
		}
	}
}

func TestBinaryReportsEveryProblem(t *testing.T) {
	_, err := frame.New(frame.Options{Format: "binary", Binary: frame.Binary{Sync: "zz", Length: 1, Checksum: "ccitt", Fields: []frame.BinaryField{
		{Field: "low_mm", At: 1, Type: "float64"}, {Field: "tilt_deg", At: -1, Type: "int16", Order: "big-swapped", NoValue: []string{"80"}},
		{Field: "address", Type: "int8"}, {Field: "lowmm", Type: "uint8", Scale: math.Inf(1)},
	}}})
	if err == nil {
		t.Fatal("got no error")
	}
	for _, want := range []string{"binary.sync", "several that differ", "binary.length", "binary.checksum_at", `"float64"`, "is none of 2 bytes", "at -1",
		"cannot hold an address", `"lowmm" is not known`, "scale 0", "scale +Inf", `no_value "80"`} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in:\n%v", want, err)
		}
	}
}

func FuzzBinary(f *testing.F) {
	for _, seed := range []string{goodFrame + goodFrame, "aa55aa55" + goodFrame, noneFrame + nanFrame, "aaaaaa"} {
		f.Add([]byte(bytesOf(f, seed)), byte(3))
	}
	f.Fuzz(func(t *testing.T, data []byte, step byte) {
		d := decoder(t, packed)
		good := bytesOf(t, goodFrame, goodFrame) // rubbish that looks like a start takes ten bytes more
		size := int(step)%32 + 1
		last := ""
		text := string(data) + good
		for i := 0; i < len(text); i += size {
			for _, fr := range feed(d, text[i:min(i+size, len(text))], time.Duration(i)*time.Millisecond) {
				if len(fr.Raw) > packed.Binary.Length || math.IsNaN(float64(fr.Low.V)) || fr.Refusal != nil && fr.Low.Set {
					t.Fatalf("got %+v", fr)
				}
				last = told([]frame.Frame{fr})[0]
			}
		}
		if last != "2: 12.5" {
			t.Fatalf("after %x the good frame was not found: %q", data, last)
		}
	})
}

func BenchmarkBinary(b *testing.B) {
	d := decoder(b, packed)
	line := []byte(bytesOf(b, goodFrame))
	var f frame.Frame
	b.ReportAllocs()
	for b.Loop() {
		d.Feed(line, frame.Stamp{})
		for d.Next(&f) {
			if f.Refusal != nil {
				b.Fatal(f.Refusal)
			}
		}
	}
}
