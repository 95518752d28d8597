package offline

import (
	"slices"
	"strings"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/position"
)

// signalColumns are the columns that hold what a digitizer sent in place of a position, and what came with it.
var signalColumns = []string{"high_counts", "low_counts", "high_v", "low_v", "high_ma", "low_ma", "high_distance_mm", "low_distance_mm", "high_px", "low_px",
	"fiducial_1_px", "fiducial_2_px", "fiducial_3_px", "fiducial_4_px", "score", "edges", "frame_counter"}

// Signals are how the positions of one instrument are worked out, and the columns that hold its signals, those of the
// image included.
type Signals struct {
	In      *position.Instrument
	Columns []string
	state   position.State
}

// SignalsOf builds them for every instrument of a configuration that has any.
func SignalsOf(c *configs.Config) (map[string]*Signals, error) {
	out := map[string]*Signals{}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if in.Signal == nil {
			continue
		}
		p, err := assemble.Signals(in)
		if err != nil {
			return nil, err
		}
		out[in.Name] = &Signals{In: p, Columns: in.Signal.Fields()}
	}
	return out, nil
}

// WithSignals gives the reader what works out positions, by instrument. Call it before Next.
func (r *Reader) WithSignals(signals map[string]*Signals) { r.signals = signals }

// work fills in the positions of a row that holds signals. A position in mm is taken as it is, with the uncertainty that
// one from the signal would typically have. A column of another instrument's signal is refused, never passed over.
func (r *Reader) work(rd *convert.Reading, given []string) (note, refusal *convert.Refusal) {
	s := r.signals[rd.Instrument]
	signals := slices.DeleteFunc(slices.Clone(given), func(name string) bool { return !slices.Contains(signalColumns, name) })
	for _, name := range signals {
		if s == nil || !slices.Contains(s.Columns, name) {
			return nil, &convert.Refusal{Code: convert.FrameFields, Field: name, Seen: "is given, and " + rd.Instrument + " does not read it",
				Allowed: "an empty field", Check: "that the row is of this instrument, and its block signal"}
		}
	}
	switch {
	case len(signals) == 0:
		*rd = r.converters[rd.Instrument].WithTypical(*rd)
		return nil, nil
	case slices.Contains(given, "high_mm") && s.In.High != nil, slices.Contains(given, "low_mm") && s.In.Low != nil:
		return nil, &convert.Refusal{Code: convert.FrameFields, Field: "row", Seen: "has a position and " + strings.Join(signals, ", "),
			Allowed: "one of the two", Check: "which of them was read"}
	}
	note = s.In.Work(rd, &s.state)
	refusal, rd.Refusal = rd.Refusal, nil
	return note, refusal
}

// setSignal puts one of signalColumns into the reading.
func setSignal(rd *convert.Reading, name string, v float64) {
	switch {
	case strings.HasPrefix(name, "high_"):
		rd.HighSignal = convert.Some(v)
		return
	case strings.HasPrefix(name, "low_"):
		rd.LowSignal = convert.Some(v)
		return
	}
	if rd.Camera == nil {
		rd.Camera = new(convert.Camera)
	}
	c := rd.Camera
	switch name {
	case "score":
		c.Score = convert.Some(v)
	case "edges":
		c.Edges = convert.Some(v)
	case "frame_counter":
		c.Counter = convert.Some(v)
	default: // fiducial_1_px
		c.Fiducials[name[len("fiducial_")]-'1'] = convert.Some(v)
	}
}
