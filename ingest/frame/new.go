package frame

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// FormatNames gives the formats that New knows.
func FormatNames() []string {
	return []string{"delimited", "pattern", "json-lines", "nmea-xdr", "binary"}
}

// New makes the decoder for the frames described. It returns every problem of the description at once, each with the
// key it is about.
func New(o Options) (Decoder, error) {
	var problems []error
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }

	if o.MaxGap == 0 {
		o.MaxGap = DefaultMaxGap
	}
	if o.MaxGap < 0 {
		bad("max_gap: %v is negative", o.MaxGap)
	}
	end, ok := terminators[o.Terminator]
	if !ok {
		bad("terminator: %q is not any, lf, cr or crlf", o.Terminator)
	}
	if o.HeaderLines < 0 {
		bad("header_lines: %d is negative", o.HeaderLines)
	}
	if o.Format == "binary" {
		d, errs := newBinary(o)
		if problems = append(problems, errs...); len(problems) > 0 {
			return nil, errors.Join(problems...)
		}
		return d, nil
	}
	var parser lineParser
	var errs []error
	switch o.Format {
	case "delimited":
		parser, errs = newDelimited(o)
	case "pattern":
		parser, errs = newPattern(o)
	case "json-lines":
		parser, errs = newJSONLines(o)
	case "nmea-xdr":
		parser, errs = newXDR(o)
	default:
		bad("format: %q is not known; known: %s", o.Format, strings.Join(FormatNames(), ", "))
	}
	problems = append(problems, errs...)
	if o.Checksum.Name != "" && o.Format != "nmea-xdr" {
		c, errs := newChecked(parser, o.Checksum)
		parser, problems = c, append(problems, errs...)
	}
	if len(problems) > 0 {
		return nil, errors.Join(problems...)
	}
	return newLines(parser, o, end), nil
}

func newDelimited(o Options) (*delimited, []error) {
	fields, problems := parseFields(o.Fields, !o.ChannelsOnly)
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }

	n, errs := newNumbers(o)
	problems = append(problems, errs...)
	d := &delimited{fields: fields, addressAt: slices.Index(fields, address), separator: []byte(o.Separator), numbers: n}
	switch {
	case o.Separator == "":
		bad("separator: missing; write it as sent, such as \",\" or \";\", or whitespace")
	case o.Separator == "whitespace" || strings.Trim(o.Separator, " ") == "":
		d.blanks = true
	case strings.ContainsAny(o.Separator, "\r\n\x00"):
		bad("separator: %q contains a line end or a NUL", o.Separator)
	case strings.ContainsAny(o.Separator, "0123456789+-."):
		bad("separator: %q contains characters of numbers", o.Separator)
	case d.mark == ',' && strings.Contains(o.Separator, ","):
		bad("separator: %q contains the decimal comma; a line cannot be told apart", o.Separator)
	}
	return d, problems
}

// newNumbers takes what the description says of numbers.
func newNumbers(o Options) (n numbers, problems []error) {
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	n.mark = '.'
	switch o.Decimal {
	case "", ".":
	case ",":
		n.mark = ','
	default:
		bad("decimal: %q is neither a point nor a comma", o.Decimal)
	}
	n.words = slices.Clone(errorWords)
	for _, w := range o.ErrorWords {
		_, rest, fault := parseNumber([]byte(w), n.mark)
		switch {
		case strings.TrimSpace(w) == "" || strings.TrimSpace(w) != w:
			bad("error_words: %q is empty or has blanks around it", w)
		case fault == sound && len(rest) == 0:
			n.sentinels = append(n.sentinels, w)
		default:
			n.words = append(n.words, w)
		}
	}
	for i, info := range fieldInfos {
		n.suffixes[i] = info.suffixes
	}
	if o.ReadingUnit != "" {
		n.suffixes[reading] = []string{o.ReadingUnit}
	}
	return n, problems
}

// parseFields checks the names of the fields.
func parseFields(names []string, position bool) (fields []field, problems []error) {
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	if len(names) == 0 || len(names) > maxFields {
		bad("fields: %d fields is outside 1 to %d", len(names), maxFields)
		return nil, problems
	}
	for _, name := range names {
		f, ok := fieldNamed(name)
		switch {
		case !ok:
			bad("fields: %q is not known; known: %s", name, strings.Join(FieldNames(), ", "))
		case f != skip && slices.Contains(fields, f):
			bad("fields: %q stands twice", name)
		case f.signalOf() != 0 && slices.ContainsFunc(fields, func(g field) bool { return g.signalOf() == f.signalOf() }):
			bad("fields: %q is a second signal of its limb", name)
		}
		fields = append(fields, f)
	}
	if position && !slices.ContainsFunc(fields, field.position) {
		bad("fields: no position; low_mm, high_mm, reading or the signal of a limb is needed")
	}
	return fields, problems
}
