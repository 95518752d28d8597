package bridge

import (
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// borrowed is the liquid temperature that an instrument takes from the frames of another.
type borrowed struct {
	from   string // the other instrument; empty where the temperature is its own
	maxAge time.Duration

	// What this instrument's own frames last said, for those that borrow from it. Only the loop touches it.
	last convert.Optional[quantity.Temperature]
	at   time.Duration // since the start of the run
}

func borrowing(in *configs.Instrument) borrowed {
	switch in.Temperature.From {
	case "", configs.FromFrame, configs.FromFixed, configs.FromAmbient:
		return borrowed{}
	}
	return borrowed{from: in.Temperature.From, maxAge: time.Duration(in.Temperature.MaxAge)}
}

// lend remembers the temperature a frame brought, and gives one that borrows the latest of its source if it is young
// enough. An older one is not used: the reading then has none, and the instrument's rule for that holds.
func (b *Bridge) lend(in *instrument, r *convert.Reading) {
	if r.Refusal == nil && r.Temperature.Set {
		in.borrow.last, in.borrow.at = r.Temperature, r.SinceStart
	}
	if in.borrow.from == "" {
		return
	}
	r.Temperature = convert.Optional[quantity.Temperature]{}
	source := b.instruments[in.borrow.from]
	if source != nil && source.borrow.last.Set && r.SinceStart-source.borrow.at <= in.borrow.maxAge {
		r.Temperature = source.borrow.last
	}
}
