package ingest_test

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
)

// long tells whether loops are to be as long as they are meant to be before a release.
func long() bool { return os.Getenv("MANOBRIDGE_LONG") == "1" }

// noisyFrames is how many frames go through each noisy line.
func noisyFrames() int {
	if long() {
		return 100_000
	}
	return 10_000
}

// form is one way to send a position, and how much its check value vouches for.
type form struct {
	name    string
	options frame.Options
	bits    int // of the check value; 0: none
	address func(i int) string
	write   func(i int) string // frame i with its line end, each unlike every other
}

// The check values are worked here by their definitions, apart from the decoder: the exclusive or, the sum, and the cyclic
// ones bit by bit (Modbus over Serial Line V1.02, 6.2.2) or by hash/crc32 of the Go library.
func forms() []form {
	numbers := []string{"address", "low_mm", "temperature_c"}
	text := func(i int) string { return fmt.Sprintf("%02d,%.3f,21.%d", 2+i%2, 20+float64(i)/400, i%10) }
	number := func(i int) string { return fmt.Sprintf("%02d", 2+i%2) }
	checked := func(name string, bits int, value func(string) uint32) form {
		return form{name, frame.Options{Format: "delimited", Separator: ",", Fields: numbers, Checksum: frame.Checksum{Name: name, Marker: "*"}}, bits, number,
			func(i int) string { s := text(i); return fmt.Sprintf("%s*%0*X\r\n", s, bits/4, value(s)) }}
	}
	return []form{
		checked("crc-16/modbus", 16, func(s string) uint32 { return uint32(modbusCRC([]byte(s))) }),
		checked("crc-32", 32, func(s string) uint32 { return crc32.ChecksumIEEE([]byte(s)) }),
		{"binary", frame.Options{Format: "binary", Binary: frame.Binary{Sync: "AA 55", Length: 11, Checksum: "crc-16/modbus", ChecksumAt: 9, LowByteFirst: true,
			Fields: []frame.BinaryField{{Field: "address", At: 2, Type: "uint8"}, {Field: "low_mm", At: 3, Type: "float32", Order: "big", Scale: 1},
				{Field: "temperature_c", At: 7, Type: "int16", Order: "little", Scale: 0.1}}}},
			16, func(i int) string { return fmt.Sprint(2 + i%2) }, func(i int) string {
				b := []byte{0xAA, 0x55, byte(2 + i%2)}
				b = binary.BigEndian.AppendUint32(b, math.Float32bits(20+float32(i)/256))
				b = binary.LittleEndian.AppendUint16(b, uint16(210+i%10))
				return string(binary.LittleEndian.AppendUint16(b, modbusCRC(b)))
			}},
		checked("xor-8", 8, exclusiveOr),
		checked("sum-8", 8, func(s string) (v uint32) {
			for _, c := range []byte(s) {
				v += uint32(c)
			}
			return v & 0xFF
		}),
		{"nmea-xdr", frame.Options{Format: "nmea-xdr", TalkerAddress: true, Transducers: map[string]string{"LOW": "low_mm", "OIL": "temperature_c"}},
			8, func(i int) string { return []string{"YX", "WI"}[i%2] }, func(i int) string {
				s := fmt.Sprintf("%sXDR,D,%.6f,M,LOW,C,21.%d,C,OIL", []string{"YX", "WI"}[i%2], 0.02+float64(i)/400_000, i%10)
				return fmt.Sprintf("$%s*%02X\r\n", s, exclusiveOr(s))
			}},
		{"delimited", frame.Options{Format: "delimited", Separator: ",", Fields: numbers}, 0, number, func(i int) string { return text(i) + "\r\n" }},
		{"json-lines", frame.Options{Format: "json-lines", Keys: map[string]string{"a": "address", "low": "low_mm", "t": "temperature_c"}}, 0, number,
			func(i int) string {
				return fmt.Sprintf("{\"a\":\"%02d\",\"low\":%.3f,\"t\":21.0}\r\n", 2+i%2, 20+float64(i)/400)
			}},
	}
}

func exclusiveOr(s string) (v uint32) {
	for _, c := range []byte(s) {
		v ^= uint32(c)
	}
	return v
}

func modbusCRC(b []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, c := range b {
		crc ^= uint16(c)
		for range 8 {
			low := crc & 1
			crc >>= 1
			if low != 0 {
				crc ^= 0xA001
			}
		}
	}
	return crc
}

// noisy is what a line made of frames.
type noisy struct {
	bytes   []byte
	origin  []int // of each byte: the frame it was written for
	written []string
	spoilt  int // frames in which, or ahead of which, a byte was changed, lost or added
}

// spoil lets something happen to one byte in a hundred: seven times in ten it becomes another, otherwise it is lost or one
// comes ahead of it, alike often.
func spoil(f form, n int, r *rand.Rand) (line noisy) {
	add := func(b byte, i int) { line.bytes, line.origin = append(line.bytes, b), append(line.origin, i) }
	for i := range n {
		text := f.write(i)
		line.written = append(line.written, text)
		hit := false
		for _, b := range []byte(text) {
			if r.Float64() >= 0.01 {
				add(b, i)
				continue
			}
			hit = true
			switch chance := r.Float64(); {
			case chance < 0.7:
				add(b^byte(1+r.IntN(255)), i)
			case chance < 0.85:
			default:
				add(byte(r.IntN(256)), i)
				add(b, i)
			}
		}
		if hit {
			line.spoilt++
		}
	}
	return line
}

// counted is what a noisy line should be made of.
type counted struct {
	pieces int // frames there are to find, whole or not
	whole  int // of them just as written
	merged int // frames that run together with one before, so that both are one piece
	extra  int // pieces of a frame of which there was a piece before
}

// lines counts, apart from the decoder, what is between line ends, a CR or an LF each, blank pieces left out. The last must
// have its line end.
func (n *noisy) lines() (c counted) {
	last, from := -1, 0 // the latest frame seen so far; where the piece begins
	for at, b := range n.bytes {
		if b != '\r' && b != '\n' {
			continue
		}
		if at > from {
			c.pieces++
			written := n.written[n.origin[from]]
			if string(n.bytes[from:at]) == written[:len(written)-2] {
				c.whole++
			}
			fresh := n.origin[at-1] - last // frames that no piece before held anything of
			c.merged += max(fresh-1, 0)
			if fresh <= 0 {
				c.extra++
			}
			last = max(last, n.origin[at-1])
		}
		from = at + 1
	}
	return c
}

// Noise at one byte in a hundred. Of ten thousand frames with a check value of 16 bits or more none that is wrong is taken
// for a reading; of any number at most what chance allows, which is one spoilt frame in 256 with 8 bits and one in 65 536
// with 16. How many were is told, also for lines without any check value. Each frame written is
// good, refused, or accounted for in putting the line together again.
func TestNoise(t *testing.T) {
	for k, f := range forms() {
		t.Run(f.name, func(t *testing.T) {
			t.Parallel()
			n := noisyFrames()
			line := spoil(f, n, rand.New(rand.NewPCG(7, uint64(k))))
			r := throughLine(t, f, &line)
			wrong, good := judge(t, f, r.Items(), &line)
			s := r.Source.Stats()
			var refused uint64
			for _, m := range []map[convert.Cause]uint64{s.Refused, s.Unattributed} {
				for _, c := range m {
					refused += c
				}
			}
			t.Logf("%d frames, %d spoilt (1 in 256: %.0f): %d right, %d wrong ones accepted, %d refused", n, line.spoilt, float64(line.spoilt)/256, good, wrong, refused)
			if f.bits > 0 && float64(wrong) > atMost(line.spoilt, f.bits) {
				t.Errorf("got %d wrong readings accepted of %d spoilt frames, want at most %.1f by a check value of %d bits", wrong, line.spoilt, atMost(line.spoilt, f.bits), f.bits)
			}
			if f.bits >= 16 && wrong > 0 && !long() {
				t.Errorf("got %d wrong readings accepted, want none", wrong)
			}
			if f.name == "binary" {
				binaryLedger(t, &line, s, uint64(good+wrong))
				return
			}
			c := line.lines()
			// A frame can say what it said in other letters: a hexadecimal digit as a small one, where a case bit was hit.
			if good < c.whole || good > c.whole+line.spoilt/100 {
				t.Errorf("got %d readings with the values written, want the %d that arrived whole, and few more", good, c.whole)
			}
			// The line end that joins the line is there before the first frame, so every piece counts.
			// A sentence whose name was hit so that its check value fits all the same is another sentence, and passed over.
			others := c.pieces - int(s.Frames)
			if others < 0 || others > 0 && (f.name != "nmea-xdr" || float64(others) > atMost(line.spoilt, 8)) || s.Good+refused != s.Frames {
				t.Errorf("got %d frames, %d good and %d refused, want the %d pieces between line ends", s.Frames, s.Good, refused, c.pieces)
			}
			if got := int(s.Good+refused) + others + c.merged - c.extra; got != n {
				t.Errorf("got %d good + %d refused + %d taken for others + %d run together - %d cut in pieces = %d, want the %d written", s.Good, refused, others, c.merged, c.extra, got, n)
			}
		})
	}
}

// atMost is how many of the spoilt frames may pass by chance: what is to be expected where each is as good as random, and
// five standard deviations.
func atMost(spoilt, bits int) float64 {
	expected := float64(spoilt) / math.Pow(2, float64(bits))
	return expected + 5*math.Sqrt(expected)
}

// throughLine sends it through a pseudo-terminal in pieces of any size, and waits until all is read.
func throughLine(t *testing.T, f form, n *noisy) *ingesttest.Running {
	t.Helper()
	if f.name != "binary" {
		n.bytes, n.origin = append(n.bytes, '\n'), append(n.origin, len(n.written)-1)
	}
	line := ingesttest.NewLine(t)
	o := ingesttest.Options(t, port(line.Path), nil)
	var err error
	if o.Decoder, err = frame.New(f.options); err != nil {
		t.Fatal(err)
	}
	o.Instruments = map[string]string{f.address(0): "duct-2", f.address(1): "duct-3"}
	r := ingesttest.Run(t, o)
	join(t, line, r, 1)
	cut := rand.New(rand.NewPCG(1, 2))
	for rest := n.bytes; len(rest) > 0; {
		k := min(1+cut.IntN(1000), len(rest))
		line.Send(string(rest[:k]))
		rest = rest[k:]
	}
	ingesttest.Eventually(t, "all read", func() bool { return r.Source.Stats().Bytes == uint64(len(n.bytes)+1) })
	r.Stop()
	return r
}

// judge counts readings with the values that were written, each frame once and in order, and those with others.
func judge(t *testing.T, f form, items []ingest.Item, n *noisy) (wrong, good int) {
	t.Helper()
	type values struct {
		instrument  string
		low         quantity.Length
		temperature quantity.Temperature
	}
	clean, err := frame.New(f.options)
	if err != nil {
		t.Fatal(err)
	}
	clean.Feed([]byte("\n"), frame.Stamp{})
	var fr frame.Frame
	clean.Next(&fr)
	number := make(map[values]int, len(n.written))
	for i, text := range n.written {
		clean.Feed([]byte(text), frame.Stamp{})
		if !clean.Next(&fr) || fr.Refusal != nil {
			t.Fatalf("%q: no good frame before anything happened to it", text)
		}
		number[values{[]string{"duct-2", "duct-3"}[i%2], fr.Low.V, fr.Temperature.V}] = i
		clean.Next(&fr)
	}
	if len(number) != len(n.written) {
		t.Fatalf("got %d frames that differ, want all %d", len(number), len(n.written))
	}
	// What is right is the longest row of frames in the order written; a wrong value may be that of another frame.
	var ends []int // the smallest last number of a row of each length
	accepted := 0
	for _, it := range items {
		if it.Event != nil || it.Reading.Refusal != nil {
			continue
		}
		accepted++
		if i, ok := number[values{it.Reading.Instrument, it.Reading.Low.V, it.Reading.Temperature.V}]; ok {
			k, _ := slices.BinarySearch(ends, i)
			ends = slices.Replace(ends, k, min(k+1, len(ends)), i)
		}
	}
	return accepted - len(ends), len(ends)
}

// binaryLedger accounts for every byte, since what is between frames has no ends: it is of a good frame, or passed over,
// or the first of a frame with the wrong check value, which is looked through again for the start of the next one.
func binaryLedger(t *testing.T, n *noisy, s ingest.Stats, good uint64) {
	t.Helper()
	const length = 11
	again := s.Refused[convert.FrameChecksum] + s.Unattributed[convert.FrameChecksum]
	if got, want := good*length+s.PassedOver+again, uint64(len(n.bytes)+1); got != want {
		t.Errorf("got %d good frames of %d bytes + %d bytes passed over + %d looked through again = %d, want the %d sent", good, length, s.PassedOver, again, got, want)
	}
	// Every whole frame that no spoilt one ran into is found: at most as many are missing as were spoilt, and one behind each.
	if whole := len(n.written) - n.spoilt; int(good) < whole-n.spoilt || int(good) > len(n.written) {
		t.Errorf("got %d good frames, want about the %d that were not spoilt", good, whole)
	}
	if int(s.Unattributed[convert.FrameFormat]+again) > n.spoilt {
		t.Errorf("got %d refusals, want one for each stretch of trouble at most: %d frames were spoilt", s.Unattributed[convert.FrameFormat]+again, n.spoilt)
	}
}

// A check value of 8 bits that is itself at random fits once in 256, one of 16 bits once in 65 536. What is said of check
// values in the documentation rests on that.
func TestRandomCheckValues(t *testing.T) {
	for k, f := range forms() {
		if f.options.Checksum.Name == "" {
			continue
		}
		r := rand.New(rand.NewPCG(11, uint64(k)))
		d, err := frame.New(f.options)
		if err != nil {
			t.Fatal(err)
		}
		d.Feed([]byte("\n"), frame.Stamp{})
		var fr frame.Frame
		n, taken := noisyFrames()*5, 0
		d.Next(&fr)
		for i := range n {
			text := f.write(i)
			text = text[:len(text)-2-f.bits/4]
			text += fmt.Sprintf("%0*X\r\n", f.bits/4, r.Uint64()&(1<<f.bits-1))
			d.Feed([]byte(text), frame.Stamp{Mono: time.Duration(i)})
			for d.Next(&fr) {
				if fr.Refusal == nil {
					taken++
				}
			}
		}
		want := float64(n) / math.Pow(2, float64(f.bits))
		t.Logf("%s: %d of %d random check values fit, expected %.1f", f.name, taken, n, want)
		if tol := 5*math.Sqrt(want) + 1; math.Abs(float64(taken)-want) > tol {
			t.Errorf("%s: got %d of %d random check values that fit, want %.1f ± %.1f (5 standard deviations and one)", f.name, taken, n, want, tol)
		}
	}
}
