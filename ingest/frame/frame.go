// Package frame finds the frames in the bytes of a serial line and reads limb positions out of them.
//
// It is pure: no input or output, no clock, no logger. Bytes and the moment they were read go in; frames come out, each
// with positions in units or with a refusal that says what was seen and what was allowed. After rubbish the next good
// frame is found again, and memory is bounded whatever the line sends. A decoder refuses to mend: a NUL is not
// stripped, a comma is not taken for a decimal point unless that is stated, a word for "no value" never becomes a
// number, and a frame that is partly wrong gives no position at all.
package frame

import (
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// MaxLength bounds a frame in bytes, its line end left out; the journal keeps no longer ones.
const MaxLength = 512

// DefaultMaxGap is the longest pause inside one frame where Options.MaxGap is zero. The slowest rate in use, 300 bit/s,
// sends a byte in 33 ms; a sender that stops for seconds was interrupted.
const DefaultMaxGap = 2 * time.Second

// Stamp is one moment on both clocks.
type Stamp struct {
	Wall time.Time     // may step
	Mono time.Duration // since the start of the run; never steps
}

// Frame is what one frame said, or, where Refusal is set, why nothing of it is used.
type Frame struct {
	// At is the moment of the read that delivered the first byte.
	At Stamp
	// Raw is the frame without its line end, at most the maximum length. It is valid until the next call of a method
	// of the decoder.
	Raw []byte

	// Address is the instrument's address as sent, blanks around it removed; empty where the format has none. Valid as
	// long as Raw.
	Address []byte
	// Addressed tells whether the frame can be attributed: its address was readable, or the format has none.
	Addressed bool

	// What the frame reported, as in convert.Reading.
	High, Low          convert.Optional[quantity.Length]
	Indicated          convert.Optional[float64]
	Temperature        convert.Optional[quantity.Temperature]
	Tilt               convert.Optional[quantity.Angle]
	AmbientTemperature convert.Optional[quantity.Temperature]
	AmbientPressure    convert.Optional[quantity.AbsolutePressure]
	AmbientHumidity    convert.Optional[quantity.Ratio]
	Contact            convert.Optional[float64] // 0 or 1; another number says nothing

	// What was sent in place of a position, in the unit of the field's name, and what came with the row of an image, which
	// is the caller's to keep.
	HighSignal, LowSignal convert.Optional[float64]
	Camera                *convert.Camera

	// Refusal, where not nil, says why the frame is not used. The values are then not to be used either.
	Refusal *convert.Refusal
}

// Decoder turns the bytes of one port into frames. It is not safe for concurrent use.
//
// The caller gives it the bytes of one read with Feed, then calls Next until it says false, then may reuse the bytes.
type Decoder interface {
	// Feed gives the decoder the bytes of one read and the moment of that read.
	Feed(p []byte, at Stamp)
	// Next fills in the next frame found. False means that the bytes fed are used up; the start of an unfinished frame
	// is kept.
	Next(f *Frame) bool
	// Reset forgets an unfinished frame, because the port was opened again, and returns how many of its bytes are lost.
	// What follows up to the first frame start is passed over, since its beginning may be missing.
	Reset() (lost int)
	// PassedOver counts the bytes passed over since the decoder was made: what came before the first frame start after
	// each opening, headers, lines of no concern, and what Reset lost.
	PassedOver() uint64
}

// Options says how the frames of a port look. The names are those of the configuration.
type Options struct {
	// Format is one of FormatNames.
	Format string

	// Fields names the fields of delimited lines in the order sent, each one of FieldNames; skip is for one that is of no
	// interest.
	Fields []string
	// Separator stands between two fields. One made of spaces alone, or the word "whitespace", stands for any run of
	// spaces and tabs, also at the ends of the line.
	Separator string
	// Decimal is the decimal sign of the numbers, a point or a comma; empty means a point.
	Decimal string
	// Terminator ends a line: lf, cr, crlf, or any of them; empty means any. Where one is stated, the others are foreign
	// bytes in the line. Empty lines are passed over.
	Terminator string
	// HeaderLines is how many lines after an opening are passed over if they cannot be read as frames, because the
	// digitizer says something about itself there. The first good frame ends that.
	HeaderLines int
	// ErrorWords are what the sender writes for "no value", beside the usual OVER, UNDER, ERR, ---- and the like: words
	// in upper or lower case, or a number such as -9999 exactly as sent.
	ErrorWords []string
	// ReadingUnit is the unit suffix that the reading field may have; empty if none. The other fields may always have
	// the suffix of the unit in their name.
	ReadingUnit string
	// ChannelsOnly says that the frames need no position: what sends them is no manometer but a probe or a barometer.
	ChannelsOnly bool

	// Pattern, for the format pattern, is a regular expression (RE2 syntax) that matches a whole line; its named groups
	// are fields, as in (?P<low_mm>[0-9.]+).
	Pattern string
	// Keys, for the format json-lines, gives the field that each member holds; members of inner objects have dotted
	// paths.
	Keys map[string]string
	// Transducers, for the format nmea-xdr, gives the field that each named transducer holds.
	Transducers map[string]string
	// TalkerAddress, for the format nmea-xdr, takes the talker, the letters before XDR, for the address.
	TalkerAddress bool

	// Binary, for the format binary, describes frames that are not text.
	Binary Binary

	// Checksum says how lines are checked. nmea-xdr has its own.
	Checksum Checksum

	// MaxGap bounds the pause inside one frame; zero means DefaultMaxGap.
	MaxGap time.Duration
}
