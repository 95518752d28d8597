package bridge

import (
	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/position"
)

// signals works out the positions of one instrument. Only the loop touches it.
type signals struct {
	in    *position.Instrument // nil where its digitizer sends positions
	state position.State
}

func newSignals(in *configs.Instrument) (signals, error) {
	p, err := assemble.Signals(in)
	return signals{in: p}, err
}

// work fills in the positions of a reading, or refuses it. What it returns marks the result.
func (s *signals) work(r *convert.Reading) *convert.Refusal { return s.in.Work(r, &s.state) }

// mark marks a result with what was found while its position was worked out, if anything.
func mark(res *convert.Result, note *convert.Refusal) {
	if note != nil {
		res.Mark(note)
	}
}
