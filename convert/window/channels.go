package window

import (
	"fmt"
	"math"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Channel is one of the values that a conversion needs beside the positions.
type Channel uint8

// The channels.
const (
	LiquidTemperature Channel = iota
	AmbientTemperature
	AmbientPressure
	AmbientHumidity
	Tilt
	NumChannels
)

// String names the channel in the words of the bench.
func (c Channel) String() string {
	return [...]string{"liquid temperature", "ambient temperature", "ambient pressure", "relative humidity", "tilt"}[c]
}

// Rule says where one channel of an instrument comes from. The zero value leaves what the reading brought.
type Rule struct {
	// From names the instrument or the station whose frames bring it.
	From string
	// MaxAge is how far in time a value may be from the reading, that far included.
	MaxAge time.Duration
	// BadWhenOld lets nothing stand in for a value that is too old.
	BadWhenOld bool
	// Configured says that the configured value holds, whatever the reading brought.
	Configured bool
}

// Rules are those of one instrument.
type Rules [NumChannels]Rule

// Latest is what one source of channels said last. The zero value has said nothing.
type Latest struct{ kept [NumChannels]pair }

// pair is the last value and the one before it, in the order of their time.
type pair struct {
	n      int
	values [2]stamped // the later first
}

type stamped struct {
	v  float64
	at time.Duration // since the start of the run
}

// Note remembers what a reading brought. A refused one brought nothing.
func (l *Latest) Note(r *convert.Reading) {
	if r.Refusal != nil {
		return
	}
	for c := range NumChannels {
		if v := get(r, c); v.Set {
			l.kept[c].note(stamped{v.V, r.SinceStart})
		}
	}
}

func (p *pair) note(s stamped) {
	if p.n > 0 && s.at < p.values[0].at {
		return // frames of one source come in the order of their time; one that does not is no news
	}
	p.values[1], p.values[0] = p.values[0], s
	p.n = min(p.n+1, 2)
}

// near gives the value that belongs to a moment: the last one at it or before, or else the first one kept after it, and
// how far it is from it.
func (p *pair) near(at time.Duration) (v float64, age time.Duration) {
	best := p.values[0]
	if p.n > 1 && best.at > at {
		best = p.values[1]
	}
	return best.v, (best.at - at).Abs()
}

// Join puts into a reading what its rules say, source giving the Latest of a name, nil where there is none. It returns
// what is too old, for marking the result.
//
// Two ports may hand over their frames in another order than they came in: a value that came after the reading is used
// where none before it is kept, and then its age is how long after. A value is never used further than MaxAge from the
// reading. Of the liquid's temperature nothing is returned: where it is too old the reading has none, and the instrument's
// rule for that holds.
func (rules *Rules) Join(r *convert.Reading, source func(name string) *Latest) (old []*convert.Refusal) {
	for c := range NumChannels {
		rule := &rules[c]
		switch {
		case rule.Configured:
			set(r, c, convert.Optional[float64]{})
			continue
		case rule.From == "":
			continue
		}
		set(r, c, convert.Optional[float64]{})
		age := time.Duration(-1)
		if l := source(rule.From); l != nil && l.kept[c].n > 0 {
			var v float64
			if v, age = l.kept[c].near(r.SinceStart); age <= rule.MaxAge {
				set(r, c, convert.Some(v))
				continue
			}
		}
		if c == LiquidTemperature {
			continue
		}
		seen := "from " + rule.From + " has not come yet"
		if age >= 0 {
			seen = fmt.Sprintf("from %s is %.0f s old", rule.From, math.Floor(age.Seconds()))
		}
		code := convert.ChannelOld
		if rule.BadWhenOld {
			code = convert.ChannelMissing
		}
		old = append(old, &convert.Refusal{Code: code, Field: c.String(), Seen: seen,
			Allowed: fmt.Sprintf("at most %v", rule.MaxAge), Check: rule.From + " and its line"})
	}
	return old
}

func get(r *convert.Reading, c Channel) convert.Optional[float64] {
	switch c {
	case LiquidTemperature:
		return plain(r.Temperature)
	case AmbientTemperature:
		return plain(r.AmbientTemperature)
	case AmbientPressure:
		return plain(r.AmbientPressure)
	case AmbientHumidity:
		return plain(r.AmbientHumidity)
	}
	return plain(r.Tilt)
}

func set(r *convert.Reading, c Channel, v convert.Optional[float64]) {
	switch c {
	case LiquidTemperature:
		r.Temperature = as[quantity.Temperature](v)
	case AmbientTemperature:
		r.AmbientTemperature = as[quantity.Temperature](v)
	case AmbientPressure:
		r.AmbientPressure = as[quantity.AbsolutePressure](v)
	case AmbientHumidity:
		r.AmbientHumidity = as[quantity.Ratio](v)
	default:
		r.Tilt = as[quantity.Angle](v)
	}
}

func as[T ~float64](v convert.Optional[float64]) convert.Optional[T] {
	return convert.Optional[T]{V: T(v.V), Set: v.Set}
}
