package bridge

import (
	"fmt"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/window"
)

// averaging makes the averager of an instrument, nil where every reading is a result.
//
// It asks the instrument for its converter each time, as a new zero replaces that.
func averaging(in *configs.Instrument, x *instrument) (*window.Averager, error) {
	if in.Average == nil {
		return nil, nil
	}
	a, err := window.NewAverager(window.Options{Window: time.Duration(in.Average.Window), MinGood: in.Average.MinGood(),
		Convert: func(r convert.Reading) convert.Result { return x.converter.Convert(r) }})
	if err != nil {
		return nil, fmt.Errorf("instrument %s: %w", in.Name, err)
	}
	return a, nil
}
