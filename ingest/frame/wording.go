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

func refuseEmpty(kind field, i, n int) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameFields, Field: fieldInfos[kind].bench,
		Seen:    fmt.Sprintf("is empty (field %d of %d)", i+1, n),
		Allowed: "a value in every field",
		Check:   "the digitizer's output format",
	}
}

// refuseNumber says why the text of a field is not taken as a number.
func (d *delimited) refuseNumber(kind field, i int, text []byte, bad fault) *convert.Refusal {
	where := fmt.Sprintf("(field %d of %d)", i+1, len(d.fields))
	r := &convert.Refusal{
		Code: convert.FrameNumber, Field: fieldInfos[kind].bench,
		Seen:    fmt.Sprintf("%s is not a number %s", quote(text), where),
		Allowed: "digits with a decimal point",
		Check:   "the digitizer's output format",
	}
	if d.mark == ',' {
		r.Allowed = "digits with a decimal comma"
	}
	if s := d.suffixes[kind]; len(s) > 0 {
		r.Allowed += ", and only " + s[0] + " as unit"
	}
	switch {
	case d.errorWord(text):
		return d.refuseWord(kind, i, text)
	case bad == wrongMark && d.mark == '.':
		r.Seen = fmt.Sprintf("%s has a decimal comma, and a point is configured %s", quote(text), where)
		r.Check = "the digitizer's number format; if it does send a comma, state the decimal comma in the configuration"
	case bad == wrongMark:
		r.Seen = fmt.Sprintf("%s has a decimal point, and a comma is configured %s", quote(text), where)
		r.Check = "the digitizer's number format; if it does send a point, take the decimal comma out of the configuration"
	case bad == tooLarge:
		r.Seen = fmt.Sprintf("%s is too large to be a reading %s", quote(text), where)
	}
	return r
}

// refuseWord says that the digitizer itself has no value.
func (d *delimited) refuseWord(kind field, i int, text []byte) *convert.Refusal {
	return &convert.Refusal{
		Code: convert.FrameErrorWord, Field: fieldInfos[kind].bench,
		Seen:    fmt.Sprintf("%s stands for no value (field %d of %d)", quote(text), i+1, len(d.fields)),
		Allowed: "a number",
		Check:   "lighting, meniscus and limb: the digitizer found nothing to read",
	}
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
