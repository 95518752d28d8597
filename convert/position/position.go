// Package position works out where a meniscus stands from what its digitizer sends in place of a position: counts, a
// voltage, a loop current, a distance from above, or the row of an image.
//
// It is pure; what it must remember of an instrument is handed in. It gives a position with the standard uncertainty that
// the working out adds, or a refusal that says what was seen and what is allowed. It refuses to continue a calibration
// past its points, to take a fault current for a level, and to believe an image that contradicts itself.
package position

import (
	"math"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Limb works out the position in one limb.
type Limb interface {
	// Position works it out from a signal in the unit of the limb, and from what came with it; camera may be nil. The
	// name says which limb, for a refusal: "low-limb". note is a cause beside a position that holds; mostly nil.
	Position(name string, signal float64, camera *convert.Camera) (at quantity.Length, extra convert.Extra, note, refusal *convert.Refusal)
	// Typical is the uncertainty that a budget takes, which is of no reading.
	Typical() convert.Extra
}

// Instrument is how the limbs of one instrument are worked out. A nil limb sends its position, or has none.
type Instrument struct{ High, Low Limb }

// State is what is remembered of an instrument between two readings. The zero value knows nothing yet.
type State struct {
	counter float64 // of the last image
	seen    bool
}

// Work replaces the signals of a reading by positions, in place, or sets its refusal. note, where not nil, is a cause to
// mark the result with.
func (i *Instrument) Work(r *convert.Reading, s *State) (note *convert.Refusal) {
	if i == nil || r.Refusal != nil {
		return nil
	}
	if r.Refusal = s.fresh(r.Camera); r.Refusal != nil {
		return nil
	}
	for _, l := range []struct {
		name   string
		limb   Limb
		signal convert.Optional[float64]
		to     *convert.Optional[quantity.Length]
		extra  *convert.Extra
	}{{"high-limb", i.High, r.HighSignal, &r.High, &r.HighExtra}, {"low-limb", i.Low, r.LowSignal, &r.Low, &r.LowExtra}} {
		if l.limb == nil {
			continue
		}
		*l.to = convert.Optional[quantity.Length]{}
		if r.Refusal = usable(l.name, l.signal); r.Refusal != nil {
			return nil
		}
		at, extra, why, refusal := l.limb.Position(l.name, l.signal.V, r.Camera)
		if refusal != nil {
			r.Refusal = refusal
			return nil
		}
		if why != nil {
			note = why
		}
		*l.to, *l.extra = convert.Some(at), extra
	}
	return note
}

// usable refuses a signal that is not there, or no number.
func usable(name string, signal convert.Optional[float64]) *convert.Refusal {
	switch {
	case !signal.Set:
		return &convert.Refusal{Code: convert.PositionMissing, Field: name + " signal", Seen: "was not received",
			Allowed: "a signal with each reading", Check: "the digitizer and the fields of its frame"}
	case math.IsNaN(signal.V) || math.IsInf(signal.V, 0):
		return &convert.Refusal{Code: convert.NotFinite, Field: name + " signal", Seen: text(signal.V, ""), Allowed: "a finite number", Check: "the digitizer's output"}
	}
	return nil
}

// fresh refuses an image that was seen before.
func (s *State) fresh(camera *convert.Camera) *convert.Refusal {
	if camera == nil || !camera.Counter.Set {
		return nil
	}
	again := s.seen && camera.Counter.V == s.counter
	s.counter, s.seen = camera.Counter.V, true
	if !again {
		return nil
	}
	return &convert.Refusal{Code: convert.ImageFrozen, Field: "image counter", Seen: text(s.counter, "") + " came again",
		Allowed: "another number with each image", Check: "that the camera takes images, and that it is not asked faster than it does"}
}
