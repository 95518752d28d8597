package listening

import (
	"fmt"
	"regexp"
	"strings"

	"manobridge/ingest/frame"
)

// enough is how many lines a guess is made from: five that fit an 8-bit check value by chance are 1 in 10^12.
const enough = 5

// cutter cuts bytes into lines. What comes before the first line end is passed over, as its start may be missing.
type cutter struct {
	begun bool
	rest  []byte
}

func (c *cutter) lines(b []byte) (out []string) {
	for _, v := range b {
		if v != '\n' && v != '\r' {
			if c.rest = append(c.rest, v); len(c.rest) > frame.MaxLength { // not text in lines; bounded all the same
				c.rest = c.rest[:0]
			}
			continue
		}
		if c.begun && len(c.rest) > 0 {
			out = append(out, string(c.rest))
		}
		c.begun, c.rest = true, c.rest[:0]
	}
	return out
}

// checksumOf finds the check value that every line ends with; ok is false where none fits, or the lines are too few.
func checksumOf(lines []string) (sum frame.Checksum, ok bool) {
	if len(lines) < enough {
		return sum, false
	}
	for _, name := range frame.ChecksumNames() {
		for _, marker := range []string{"*", ",", ";", " ", "\t", "|", ""} {
			for skip := range 2 {
				for _, low := range []bool{false, true} {
					if sum := (frame.Checksum{Name: name, Marker: marker, Skip: skip, LowByteFirst: low}); fits(sum, lines) {
						return sum, true
					}
				}
			}
		}
	}
	return sum, false
}

// fits asks the decoder. Whether it takes the rest of the line for a reading does not matter here.
func fits(sum frame.Checksum, lines []string) bool {
	d, err := frame.New(frame.Options{Format: "pattern", Pattern: "(?P<reading>.*)", Checksum: sum})
	if err != nil {
		return false
	}
	d.Feed([]byte("\n"+strings.Join(lines, "\n")+"\n"), frame.Stamp{})
	var f frame.Frame
	n := 0
	for d.Next(&f) {
		if n++; failsCheck(f.Refusal) {
			return false
		}
	}
	return n == len(lines)
}

// separatorOf finds what cuts every line into the same number of fields, the most there are; n is 1 where nothing does.
// One that leaves blanks within a field comes last, and blanks that leave a comma at the end of one are none.
func separatorOf(lines []string) (separator string, n int) {
	separator, n = ",", 1
	best := false
	for _, s := range []string{";", "\t", "|", ",", "whitespace"} {
		count, clean := len(cut(lines[0], s)), true
		for _, line := range lines {
			fields := cut(line, s)
			if len(fields) != count {
				count = 0
			}
			for _, f := range fields {
				f = strings.TrimSpace(f)
				clean = clean && !strings.Contains(f, " ") && strings.TrimRight(f, ",;|") == f
			}
		}
		if s == "whitespace" && !clean {
			continue
		}
		if count > 1 && (clean && !best || clean == best && count > n) {
			separator, n, best = s, count, clean
		}
	}
	return separator, n
}

func cut(line, separator string) []string {
	if separator == "whitespace" {
		return strings.Fields(line)
	}
	return strings.Split(line, separator)
}

var commaNumber = regexp.MustCompile(`^\s*[-+]?[0-9]+,[0-9]+\s*$`)

// propose writes a configuration to start from. Which field is which, no line can tell.
func propose(lines []string, device string, baud int) string {
	if len(lines) == 0 {
		return "No complete line was received: the frames are binary, or the rate is wrong.\n"
	}
	var b strings.Builder
	sum, summed := checksumOf(lines)
	bare := lines
	if summed {
		bare = make([]string, len(lines))
		for i, line := range lines {
			bare[i] = line[:len(line)-frame.ChecksumDigits(sum.Name)-len(sum.Marker)]
		}
	}
	separator, n := separatorOf(bare)
	fields := cut(bare[0], separator)
	fmt.Fprintf(&b, "\nGuessed from %d lines. A configuration to start from; name each field:\n\nports:\n  rack-a:\n    device: %q\n    baud: %d\n    frame:\n      format: delimited\n      separator: %q\n",
		len(lines), device, baud, separator)
	for _, f := range fields {
		if separator != "," && commaNumber.MatchString(f) {
			b.WriteString("      decimal: \",\"\n")
			break
		}
	}
	fmt.Fprintf(&b, "      fields: [%s]   # first line: %q\n", strings.TrimSuffix(strings.Repeat("skip, ", n), ", "), fields)
	if summed {
		fmt.Fprintf(&b, "      checksum: {name: %s", sum.Name)
		if sum.Marker != "" {
			fmt.Fprintf(&b, ", marker: %q", sum.Marker)
		}
		if sum.Skip > 0 {
			fmt.Fprintf(&b, ", skip: %d", sum.Skip)
		}
		if sum.LowByteFirst {
			b.WriteString(", low_byte_first: true")
		}
		b.WriteString("}\n")
	}
	fmt.Fprintf(&b, "\nNames of fields: %s.\n\n", strings.Join(frame.FieldNames(), ", "))
	return b.String()
}
