package convert

import (
	"math"
	"time"

	"manobridge/convert/quantity"
)

// Optional is a value that may be absent. Absent is never zero: Set tells.
type Optional[T any] struct {
	V   T
	Set bool
}

// Some makes a present value.
func Some[T any](v T) Optional[T] { return Optional[T]{V: v, Set: true} }

// Name names a result for ever: no other result of any run of any bridge of the site has the same three.
type Name struct {
	Run        string // one start of the bridge; letters and digits, unique
	Instrument string
	Seq        uint64 // counts the instrument's readings in this run, from 1, refused ones included
}

// Reading is one set of positions as received from one instrument, or, where Refusal is set, the news that what was
// received could not be used.
type Reading struct {
	Name

	// ReceivedAt is the wall clock when the first byte of the frame was read, in UTC. It may step.
	ReceivedAt time.Time
	// SinceStart is the same moment on the monotonic clock, counted from the start of the run. It never steps.
	SinceStart time.Duration

	// Frame is the raw frame without its line end, at most 512 bytes; nil for a refusal no frame caused (silence).
	Frame []byte

	// High and Low are positions along the scale of their limb, upward, before any correction.
	High, Low Optional[quantity.Length]
	// HighExtra and LowExtra are what working a position out of a signal, or averaging it, adds to its uncertainty.
	HighExtra, LowExtra Extra
	// Indicated is the reading of an engraved pressure scale, in the unit the instrument's geometry names.
	Indicated Optional[float64]

	// HighSignal and LowSignal are what a limb's digitizer sent in place of a position, in the unit the instrument states:
	// counts, V, mA, m of distance or px. Package position works the positions out.
	HighSignal, LowSignal Optional[float64]
	// Camera is what came with a signal that is a row of an image; nil elsewhere.
	Camera *Camera

	// Temperature is that of the liquid. Where it is not set the instrument's rule says what holds.
	Temperature Optional[quantity.Temperature]
	// Tilt raises the far end of the tube when positive.
	Tilt Optional[quantity.Angle]
	// The air in the legs, where measured live; otherwise the configured ambient holds.
	AmbientTemperature Optional[quantity.Temperature]
	AmbientPressure    Optional[quantity.AbsolutePressure]
	AmbientHumidity    Optional[quantity.Ratio] // 0 to 1

	// Contact is what a door contact or the like said, 0 or 1; another number says nothing.
	Contact Optional[float64]

	// Refusal, where not nil, says why there is nothing to convert. The positions are then not to be used.
	Refusal *Refusal
}

// Extra is a standard uncertainty that one position brings with it, beside that of every position of the instrument. The
// zero value adds nothing.
type Extra struct {
	U   quantity.Length
	DOF float64 // degrees of freedom; 0 means infinite
}

// Refusal is a typed "no": what was lost, what was seen and what is allowed, so that a person can act.
// It is an error, and its text is one line for the log.
type Refusal struct {
	Code    Cause  // the stable code
	Field   string // what it is about, in the words of the bench: "low-limb position", "temperature"
	Seen    string // what was seen, with its unit; foreign bytes quoted
	Allowed string // what is allowed, with its unit; may be empty
	Check   string // what to check; may be empty
}

// Error gives the refusal as one line.
func (r *Refusal) Error() string {
	s := r.Field
	if s != "" {
		s += " "
	}
	s += r.Seen
	if r.Allowed != "" {
		s += "; allowed: " + r.Allowed
	}
	if r.Check != "" {
		s += "; check " + r.Check
	}
	return s
}

// finite tells whether v is a number that can be computed with.
func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
