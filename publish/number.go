package publish

import (
	"math"
	"strconv"
	"unicode/utf8"

	"manobridge/convert/quantity"
)

// appendNumber writes v with the fewest digits that read back as the same float64, as JSON allows it.
// v is finite; negative zero is written as zero.
func appendNumber(dst []byte, v float64) []byte {
	if v == 0 {
		return append(dst, '0')
	}
	format := byte('f')
	if a := math.Abs(v); a < 1e-6 || a >= 1e21 {
		format = 'e'
	}
	return strconv.AppendFloat(dst, v, format, -1, 64)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// millimetres gives the number of millimetres to print for l. Where a number with at most six decimals makes exactly
// the same length, that one is taken, so that 0.01521 m prints as 15.21 and not as 15.209999999999999.
func millimetres(l quantity.Length) float64 {
	mm := l.Millimetres()
	if short := math.Round(mm*1e6) / 1e6; quantity.Millimetres(short) == l {
		return short
	}
	return mm
}

// celsius is the same for a temperature: 294.45 K prints as 21.3.
func celsius(t quantity.Temperature) float64 {
	c := t.Celsius()
	if short := math.Round(c*1e6) / 1e6; quantity.Celsius(short) == t {
		return short
	}
	return c
}

const hexDigits = "0123456789abcdef"

// appendText writes s as a JSON string. Bytes that are not UTF-8 become U+FFFD.
func appendText(dst []byte, s string) []byte {
	dst = append(dst, '"')
	for _, r := range s { // ranging over a string already turns bad bytes into U+FFFD
		switch {
		case r == '"' || r == '\\':
			dst = append(dst, '\\', byte(r))
		case r < 0x20 || r == 0x7f:
			dst = append(dst, '\\', 'u', '0', '0', hexDigits[r>>4], hexDigits[r&0xf])
		default:
			dst = utf8.AppendRune(dst, r)
		}
	}
	return append(dst, '"')
}

func appendInt(dst []byte, v uint64) []byte { return strconv.AppendUint(dst, v, 10) }
