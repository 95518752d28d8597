package simulate

import (
	"bytes"
	"math/rand/v2"
)

// spoil gives the bytes of a frame that something happened to. What it does can be told from the line alone: a frame
// without a check value that loses a digit and stays well formed would be a plausible wrong number, and no reader
// could know, so that is never done here.
func spoil(r *rand.Rand, text string, fate Fate) []byte {
	b := []byte(text)
	after := bytes.IndexByte(b, ',') + 1 // the first byte behind the address
	switch fate {
	case NotANumber:
		var digits []int
		for i := after; i < len(b); i++ {
			if b[i] >= '0' && b[i] <= '9' {
				digits = append(digits, i)
			}
		}
		b[digits[r.IntN(len(digits))]] ^= 0x40 // one bit: 0 to 9 become p to y
	case FieldMissing:
		fields := bytes.Split(b, []byte(","))
		i := 1 + r.IntN(len(fields)-1)
		b = bytes.Join(append(fields[:i:i], fields[i+1:]...), []byte(","))
	case NULByte:
		b[after+r.IntN(len(b)-after)] = 0
	case Truncated:
		return b[:after+r.IntN(len(b)-after)]
	case Doubled:
		b = append(append(b, lineEnd...), text...)
	}
	return append(b, lineEnd...)
}

// noiseBurst gives what a line picks up when someone starts a motor: bytes above ASCII, so that what it runs into
// can never be taken for a frame.
func noiseBurst(r *rand.Rand) []byte {
	b := make([]byte, 6+r.IntN(30))
	for i := range b {
		b[i] = byte(0x80 + r.IntN(0x80))
	}
	return b
}
