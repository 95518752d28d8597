package configs

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// A scalar is read from the text as it was typed, never from what a YAML library makes of it: 0600 is 384 to YAML,
// yes is true, null is zero and 0x1F is 31, and none of these is what a person at a bench means.

var (
	plainNumber   = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]*)?(\.[0-9]*)?([eE][-+]?[0-9]+)?$`)
	leadingZero   = regexp.MustCompile(`^[-+]?0[0-9]+(\.[0-9]*)?$`)
	numberAndUnit = regexp.MustCompile(`^([-+]?[0-9.]+)\s*([^0-9\s.,].*)$`)
	decimalComma  = regexp.MustCompile(`^[-+]?[0-9]+,[0-9]+$`)
)

// isPlain tells whether a scalar was written without quotes or block marks.
func isPlain(n *yaml.Node) bool {
	return n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) == 0
}

// readNumber reads a decimal number, or says what is wrong.
func readNumber(n *yaml.Node) (float64, *Problem) {
	s := n.Value
	no := &Problem{Seen: quote(s), Fault: "is not a number"}
	if !isPlain(n) {
		if plainNumber.MatchString(s) && s != "" {
			no.Fault, no.Hint = "is text, a number is needed", "leave the quotes away"
		}
		return 0, no
	}
	if plainNumber.MatchString(s) && strings.ContainsAny(s, "0123456789") {
		v, err := strconv.ParseFloat(s, 64)
		if err == nil && !math.IsInf(v, 0) && !math.IsNaN(v) {
			return v, nil
		}
	}
	no.Hint = numberHint(s)
	return 0, no
}

// numberHint says what was probably meant by a text that is not a number.
func numberHint(s string) string {
	lower := strings.ToLower(s)
	switch {
	case plainNumber.MatchString(s):
		return "it is too large to compute with"
	case strings.Contains(lower, "nan") || strings.Contains(lower, "inf"):
		return "a finite number is needed"
	case decimalComma.MatchString(s):
		return "the decimal sign is a point: write " + strings.Replace(s, ",", ".", 1)
	case leadingZero.MatchString(s):
		return "a leading zero makes it octal to YAML: write " + withoutLeadingZeros(s)
	case strings.HasPrefix(lower, "0x") || strings.HasPrefix(lower, "0o") || strings.HasPrefix(lower, "0b"):
		return "write it as a decimal number"
	case strings.ContainsRune(s, '_'):
		return "write the digits without _"
	case strings.HasPrefix(s, "−") || strings.HasPrefix(s, "–"):
		return "the minus sign is another character here: write -"
	case numberAndUnit.MatchString(s):
		return "the key states the unit: write the number alone"
	}
	return ""
}

func withoutLeadingZeros(s string) string {
	sign := ""
	if s[0] == '-' || s[0] == '+' {
		sign, s = s[:1], s[1:]
	}
	s = strings.TrimLeft(s, "0")
	if s == "" || s[0] == '.' {
		s = "0" + s
	}
	return sign + s
}

// readInteger reads a whole number, or says what is wrong.
func readInteger(n *yaml.Node) (int, *Problem) {
	v, problem := readNumber(n)
	if problem != nil {
		return 0, problem
	}
	if strings.ContainsAny(n.Value, ".eE") || math.Abs(v) > 1e9 {
		return 0, &Problem{Seen: quote(n.Value), Fault: "is not a whole number"}
	}
	return int(v), nil
}

// readBool reads true or false, or says what is wrong.
func readBool(n *yaml.Node) (bool, *Problem) {
	if isPlain(n) && (n.Value == "true" || n.Value == "false") {
		return n.Value == "true", nil
	}
	no := &Problem{Seen: quote(n.Value), Fault: "is not", Allowed: "true or false"}
	switch strings.ToLower(n.Value) {
	case "yes", "y", "on", "true", "1":
		no.Hint = "write true"
	case "no", "n", "off", "false", "0":
		no.Hint = "write false"
	}
	return false, no
}

// yamlWords are plain words that one YAML reader or another takes for something that is not text.
var yamlWords = []string{"true", "false", "yes", "no", "on", "off", "y", "n", "null", "~"}

// readText reads a text, or says what is wrong. What YAML would take for a number or a truth value must be quoted, so
// that every digit of an address or a serial number is kept by every reader.
func readText(n *yaml.Node) (string, *Problem) {
	s := n.Value
	if isPlain(n) {
		if slices.Contains(yamlWords, strings.ToLower(s)) {
			return "", &Problem{Seen: quote(s), Fault: "may be read as a truth value or nothing", Hint: "put it in quotes"}
		}
		if tag := n.ShortTag(); tag != "!!str" {
			return "", &Problem{Seen: s, Fault: "is not text to YAML", Hint: "write it in quotes, so that every character is kept"}
		}
	}
	if len(s) > 4096 {
		return "", &Problem{Seen: quote(s), Fault: "is longer than", Allowed: "4096 bytes"}
	}
	if s == "" {
		return "", &Problem{Seen: `""`, Fault: "is empty", Hint: "leave the key out, or write a value"}
	}
	if i := strings.IndexFunc(s, func(r rune) bool { return unicode.IsControl(r) || r == unicode.ReplacementChar }); i >= 0 && s != "\t" {
		return "", &Problem{Seen: quote(s), Fault: "has a character that cannot be printed"}
	}
	return s, nil
}

// readDuration reads a time span with its unit, or says what is wrong.
func readDuration(n *yaml.Node) (Duration, *Problem) {
	s := n.Value
	d, err := time.ParseDuration(s)
	if err == nil && (s != "0") {
		return Duration(d), nil
	}
	no := &Problem{Seen: quote(s), Fault: "is not a time with its unit", Allowed: "as 500ms, 10s, 2m or 1h"}
	if _, problem := readNumber(n); problem == nil {
		no.Seen, no.Hint = s, "(did you mean "+s+"s?)"
	} else if tight := strings.ReplaceAll(s, " ", ""); tight != s {
		if _, err := time.ParseDuration(tight); err == nil {
			no.Hint = "write " + tight
		}
	}
	return 0, no
}

// readDate reads a day, or says what is wrong.
func readDate(n *yaml.Node) (Date, *Problem) {
	t, err := time.Parse(time.DateOnly, n.Value)
	if err != nil {
		return Date{}, &Problem{Seen: quote(n.Value), Fault: "is not a date", Allowed: "as 2026-03-01, year first"}
	}
	return Date{t}, nil
}
