package frame

import (
	"fmt"
	"strconv"
	"time"

	"manobridge/convert"
)

// The words of a refusal for the person at the bench.

// maxQuoted bounds how many foreign bytes a message quotes.
const maxQuoted = 64

// quote shows foreign bytes, 64 at most.
func quote(b []byte) string {
	if len(b) <= maxQuoted {
		return strconv.Quote(string(b))
	}
	return fmt.Sprintf("%q… (%d bytes)", b[:maxQuoted], len(b))
}

func refuseOverlong(raw []byte, limit int) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameOverlong, Field: "line",
		Seen:    fmt.Sprintf("%s has no line end within %d bytes", quote(raw), limit),
		Allowed: fmt.Sprintf("at most %d bytes ended by CR or LF", limit),
		Check:   "baud rate, data bits and parity against the digitizer's, and that it ends its lines",
	}
}

func refuseNUL(raw []byte) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameNUL, Field: "line",
		Seen:    quote(raw) + " contains a NUL byte, which is how a parity error or a break arrives",
		Allowed: "text only",
		Check:   "parity setting, cable shield and ground, and cable length",
	}
}

func refusePaused(gap, limit time.Duration) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameFormat, Field: "line",
		Seen:    fmt.Sprintf("stopped in its middle for %.1f s, so its two parts may not belong together", gap.Seconds()),
		Allowed: fmt.Sprintf("a pause of at most %.1f s", limit.Seconds()),
		Check:   "cable and the digitizer's supply",
	}
}

func (d *delimited) refuseCount(raw []byte, n int) *convert.Refusal {
	r := &convert.Refusal{
		Code: convert.FrameFields, Field: "line",
		Seen:    fmt.Sprintf("%s has %s", quote(raw), count(n, "field")),
		Allowed: count(len(d.fields), "field") + " as configured",
		Check:   "the digitizer's output format and the configured separator",
	}
	if string(d.separator) == "," && n > len(d.fields) {
		r.Check += "; numbers with a decimal comma need another separator"
	}
	return r
}

// refuseContact words what no contact says.
func refuseContact(at place, text []byte) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameNumber, Field: fieldInfos[contact].bench,
		Seen:    quote(text) + " " + at.String(),
		Allowed: "0 or 1",
		Check:   "the digitizer's output format",
	}
}

func refuseEmpty(kind field, at place) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameFields, Field: fieldInfos[kind].bench,
		Seen:    "is empty " + at.String(),
		Allowed: "a value in every field",
		Check:   "the digitizer's output format",
	}
}

// refuseNumber says why the text of a field is not taken as a number.
func (r *numbers) refuseNumber(kind field, at place, text []byte, bad fault) *convert.Refusal {
	no := &convert.Refusal{
		Code: convert.FrameNumber, Field: fieldInfos[kind].bench,
		Seen:    fmt.Sprintf("%s is not a number %s", quote(text), at),
		Allowed: "digits with a decimal point",
		Check:   "the digitizer's output format",
	}
	if r.mark == ',' {
		no.Allowed = "digits with a decimal comma"
	}
	if s := r.suffixes[kind]; len(s) > 0 {
		no.Allowed += ", and only " + s[0] + " as unit"
	}
	switch {
	case r.errorWord(text):
		return refuseWord(kind, at, text)
	case bad == wrongMark && r.mark == '.':
		no.Seen = fmt.Sprintf("%s has a decimal comma, and a point is configured %s", quote(text), at)
		no.Check = "the digitizer's number format; if it does send a comma, state the decimal comma in the configuration"
	case bad == wrongMark:
		no.Seen = fmt.Sprintf("%s has a decimal point, and a comma is configured %s", quote(text), at)
		no.Check = "the digitizer's number format; if it does send a point, take the decimal comma out of the configuration"
	case bad == tooLarge:
		no.Seen = fmt.Sprintf("%s is too large to be a reading %s", quote(text), at)
	}
	return no
}

// refuseWord says that the digitizer itself has no value.
func refuseWord(kind field, at place, text []byte) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameErrorWord, Field: fieldInfos[kind].bench,
		Seen:    fmt.Sprintf("%s stands for no value %s", quote(text), at),
		Allowed: "a number",
		Check:   "lighting, meniscus and limb: the digitizer found nothing to read",
	}
}

// refuseForm says that a line has not the form it should have.
func refuseForm(raw []byte, seen, allowed string) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameFormat, Field: "line", Seen: quote(raw) + " " + seen, Allowed: allowed,
		Check: "the digitizer's output format, cable and baud rate",
	}
}

func (c *checked) refuseAbsent(raw []byte) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameChecksum, Field: "line",
		Seen:    fmt.Sprintf("%s does not end in %q and %d hexadecimal digits", quote(raw), c.rule.Marker, c.sum.width/4),
		Allowed: "lines with a " + c.sum.name + " check value",
		Check:   "that the digitizer's check value is switched on, and cable and baud rate",
	}
}

// refuseCheckValue says that the check value does not fit.
func refuseCheckValue(raw []byte, sum checksum, sent, computed uint32) *convert.Refusal {
	digits := sum.width / 4
	return &convert.Refusal{
		Code: convert.FrameChecksum, Field: "frame",
		Seen:    fmt.Sprintf("%s carries %0*X where its %s is %0*X", quote(raw), digits, sent, sum.name, digits, computed),
		Allowed: "a check value that fits",
		Check:   "cable, shield and baud rate; if none ever fits, the kind of check value in the configuration",
	}
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
