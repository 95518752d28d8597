package frame

import "strconv"

// fault says what is wrong with the text of a number.
type fault uint8

const (
	sound fault = iota
	notNumber
	tooLarge  // beyond what a float64 holds
	wrongMark // the decimal mark that was not stated
)

// maxNumberLength bounds the text of one number in bytes.
const maxNumberLength = 64

// pow10 holds the powers of ten a float64 holds exactly.
var pow10 = [...]float64{
	1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10,
	1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// parseNumber reads a decimal number at the start of b and returns what follows it. Accepted are an optional sign,
// digits with at most one decimal mark among or around them, and an optional exponent; nothing else that a programming
// language may take for a number: no hexadecimal, no digit grouping, no infinity, no NaN. The value is the float64
// nearest to the decimal text.
func parseNumber(b []byte, mark byte) (v float64, rest []byte, bad fault) {
	if len(b) > maxNumberLength {
		return 0, nil, notNumber
	}
	i := 0
	negative := false
	if i < len(b) && (b[i] == '+' || b[i] == '-') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, significant, decimals := 0, 0, 0
	seenMark := false
	for ; i < len(b); i++ {
		c := b[i]
		if c-'0' <= 9 {
			digits++
			if significant > 0 || c != '0' {
				significant++
			}
			mantissa = mantissa*10 + uint64(c-'0') // used only if significant stays small
			if seenMark {
				decimals++
			}
			continue
		}
		if c != '.' && c != ',' {
			break
		}
		if c != mark {
			return 0, nil, wrongMark
		}
		if seenMark {
			return 0, nil, notNumber
		}
		seenMark = true
	}
	if digits == 0 {
		return 0, nil, notNumber
	}
	exponent, end, ok := parseExponent(b, i)
	if !ok {
		return 0, nil, notNumber
	}
	// Exact on both sides of one correctly rounded division or multiplication, hence correctly rounded itself.
	if e := exponent - decimals; significant <= 15 && -22 <= e && e <= 22 {
		v = float64(mantissa)
		if e < 0 {
			v /= pow10[-e]
		} else {
			v *= pow10[e]
		}
		if negative {
			v = -v
		}
		return v, b[end:], sound
	}
	return slowNumber(b[:end], b[end:], mark)
}

// parseExponent reads an exponent at b[i:], if there is one, and says where the number ends. More than four digits
// cannot be meant: the line that sends them is broken.
func parseExponent(b []byte, i int) (exponent, end int, ok bool) {
	if i >= len(b) || b[i]|0x20 != 'e' {
		return 0, i, true
	}
	j := i + 1
	negative := false
	if j < len(b) && (b[j] == '+' || b[j] == '-') {
		negative = b[j] == '-'
		j++
	}
	start := j
	for ; j < len(b) && b[j]-'0' <= 9; j++ {
		if j-start == 4 {
			return 0, i, false
		}
		exponent = exponent*10 + int(b[j]-'0')
	}
	if j == start {
		return 0, i, true // not an exponent: the letter belongs to what follows the number
	}
	if negative {
		exponent = -exponent
	}
	return exponent, j, true
}

// slowNumber has the library read the long ones.
func slowNumber(text, rest []byte, mark byte) (float64, []byte, fault) {
	var buf [maxNumberLength]byte
	n := copy(buf[:], text)
	for i := range buf[:n] {
		if buf[i] == mark {
			buf[i] = '.'
		}
	}
	v, err := strconv.ParseFloat(string(buf[:n]), 64)
	if err != nil {
		return 0, nil, tooLarge // the form was checked above, so only the size can be wrong
	}
	return v, rest, sound
}
