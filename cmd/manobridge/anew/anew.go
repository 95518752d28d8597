// Package anew computes results again from the readings a journal holds, with the coefficients of now, into a generation
// of their own beside the first results.
//
// It never changes a result that is there: a wrong density that was found in March corrects January, and both are on
// record. Samples are computed from their own positions, and averages from the mean positions that were kept with them,
// with the scatter that was found then. What people and watches marked (out for maintenance, a zero being taken) stays
// marked. Each reading is given the zero that held when it was received. Positions that were worked out of a signal stay as
// they are: a corrected calibration of a digitizer is not applied.
package anew

import (
	"context"
	"errors"
	"iter"
	"math"
	"slices"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/position"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// Store is what is needed of a journal.
type Store interface {
	Export(ctx context.Context, q journal.Query) iter.Seq2[publish.Row, error]
	Zeros(ctx context.Context, instrument string) ([]journal.ZeroTaken, error)
	AddCoefficientSet(ctx context.Context, c journal.CoefficientSet) error
	BeginGeneration(ctx context.Context, g journal.Generation) (int64, error)
	AppendRecomputed(ctx context.Context, generation int64, batch []journal.Recomputed) error
	EndGeneration(ctx context.Context, generation int64, at time.Time) error
}

// Options say what is computed.
type Options struct {
	Config *configs.Config // as the file has it, without zeros that were taken
	Query  journal.Query
	Run    string // that does it; empty for a command beside no run
	Who    string
	Why    string
	Tag    string
	Now    time.Time
}

// batch is how many results are made durable at once: few enough to leave room for readings in between.
const batch = 500

// worker is one computation.
type worker struct {
	o          Options
	s          Store
	zeros      map[string][]journal.ZeroTaken
	files      map[string]string // hash of the zero in the file
	converters map[key]*convert.Converter
	typical    map[string][2]convert.Extra // what working a position out of a signal adds, in the high and the low limb
	report     Report
	generation int64
	waiting    []journal.Recomputed
}

// key is an instrument under one zero; 0 is that of the file.
type key struct {
	instrument string
	zero       int64
}

// Run computes a generation. Where it fails, the generation stays unended, which says that it is not to be relied on.
func Run(ctx context.Context, s Store, o Options) (Report, error) {
	if o.Query.Until.IsZero() || o.Query.Until.After(o.Now) {
		o.Query.Until = o.Now // what arrives meanwhile is computed with the configuration of the bridge
	}
	w := &worker{o: o, s: s, zeros: map[string][]journal.ZeroTaken{}, files: map[string]string{}, converters: map[key]*convert.Converter{},
		typical: map[string][2]convert.Extra{}}
	w.report = newReport(o)
	if err := w.prepare(ctx); err != nil {
		return w.report, err
	}
	var err error
	w.generation, err = s.BeginGeneration(ctx, journal.Generation{Made: o.Now, Run: o.Run, Who: o.Who, Why: o.Why, Tag: o.Tag, Note: "recompute"})
	if err != nil {
		return w.report, err
	}
	w.report.Generation = w.generation
	for row, err := range s.Export(ctx, o.Query) {
		var bad *journal.UndecodableRow
		switch {
		case errors.As(err, &bad):
			w.report.Unreadable++
			continue
		case err != nil:
			return w.report, err
		}
		if err := w.take(ctx, &row); err != nil {
			return w.report, err
		}
	}
	if err := w.flush(ctx); err != nil {
		return w.report, err
	}
	return w.report, s.EndGeneration(ctx, w.generation, time.Now())
}

// prepare builds the converter of every instrument, so that a configuration that cannot be computed changes nothing.
func (w *worker) prepare(ctx context.Context) error {
	c := w.o.Config
	zeros, err := w.s.Zeros(ctx, "")
	if err != nil {
		return err
	}
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if len(w.o.Query.Instruments) > 0 && !slices.Contains(w.o.Query.Instruments, in.Name) {
			continue
		}
		w.files[in.Name] = zeroing.Hash(in)
		if w.typical[in.Name], err = typicalOf(in); err != nil {
			return err
		}
		if err := w.build(ctx, key{in.Name, 0}, c, in); err != nil {
			return err
		}
		for _, z := range zeros {
			if z.Instrument != in.Name {
				continue
			}
			w.zeros[in.Name] = append(w.zeros[in.Name], z)
			if z.FileZeroHash != w.files[in.Name] {
				continue
			}
			with, err := zeroing.With(c, in, &z)
			if err != nil {
				return err
			}
			one := *c
			one.Instruments = slices.Clone(c.Instruments)
			one.Instruments[i] = *with
			if err := w.build(ctx, key{in.Name, z.ID}, &one, with); err != nil {
				return err
			}
		}
	}
	return nil
}

func (w *worker) build(ctx context.Context, k key, c *configs.Config, in *configs.Instrument) error {
	conv, err := assemble.Converter(c, in)
	if err != nil {
		return err
	}
	set, err := assemble.CoefficientSet(c, in)
	if err != nil {
		return err
	}
	w.converters[k] = conv
	return w.s.AddCoefficientSet(ctx, journal.CoefficientSet{Hash: set.Hash, Instrument: in.Name, Text: set.Text})
}

// zeroAt is the zero that held at a time: the last one taken before it and not dropped by then. Where that was taken under
// another zero of the file the file holds, and no earlier one, as in a bridge that runs.
func (w *worker) zeroAt(instrument string, at time.Time) int64 {
	for _, z := range slices.Backward(w.zeros[instrument]) {
		if !z.Time.After(at) && (z.Dropped.IsZero() || z.Dropped.After(at)) {
			if z.FileZeroHash != w.files[instrument] {
				return 0
			}
			return z.ID
		}
	}
	return 0
}

func (w *worker) take(ctx context.Context, row *publish.Row) error {
	conv := w.converters[key{row.Instrument, w.zeroAt(row.Instrument, row.ReceivedAt)}]
	if conv == nil {
		w.report.NotConfigured++ // a station, or an instrument that was taken out
		return nil
	}
	now := Again(conv, assemble.Instrument(w.o.Config, row.Instrument), w.typical[row.Instrument], &row.Result)
	w.report.see(&row.Result, &now)
	w.waiting = append(w.waiting, journal.Recomputed{Generation: w.generation, Row: row.ID, Result: now})
	if len(w.waiting) < batch {
		return nil
	}
	return w.flush(ctx)
}

func (w *worker) flush(ctx context.Context) error {
	if len(w.waiting) == 0 {
		return nil
	}
	err := w.s.AppendRecomputed(ctx, w.generation, w.waiting)
	w.waiting = w.waiting[:0]
	return err
}

// ofConversion are the causes that a conversion finds by itself. All others were found beside it, and stay.
var ofConversion = []convert.Cause{convert.PositionMissing, convert.NotFinite, convert.LimbOffScale, convert.LimbAtScaleEnd, convert.LimbOffColumn,
	convert.TemperatureMissing, convert.TemperatureRange, convert.AmbientRange, convert.TiltRange, convert.TemperatureFixed, convert.PressureRange}

// Again computes one result again from its reading. The reading of a result has what the conversion put there taken out
// first: its own refusals, and a temperature that stood in for one that was not measured. What a channel brought goes where
// the configuration now states that its configured value holds, as when a barometer was found wrong.
func Again(conv *convert.Converter, in *configs.Instrument, typical [2]convert.Extra, old *convert.Result) convert.Result {
	r := old.Reading
	if old.Average == nil { // the journal keeps this of averages alone
		r.HighExtra, r.LowExtra = typical[0], typical[1]
	}
	was := r.Refusal
	marked := was != nil && !isOfLine(was.Code) && !slices.Contains(ofConversion, was.Code)
	if was != nil && (marked || slices.Contains(ofConversion, was.Code) && hasPosition(&r)) {
		r.Refusal = nil
	}
	if in.Temperature.From == configs.FromAmbient || slices.Contains(old.Causes, convert.TemperatureFixed) {
		r.Temperature = convert.Optional[quantity.Temperature]{}
	}
	for _, f := range []struct {
		field string
		clear func()
	}{
		{"ambient_c", func() { r.AmbientTemperature = convert.Optional[quantity.Temperature]{} }},
		{"pressure_hpa", func() { r.AmbientPressure = convert.Optional[quantity.AbsolutePressure]{} }},
		{"humidity_pct", func() { r.AmbientHumidity = convert.Optional[quantity.Ratio]{} }},
		{"tilt_deg", func() { r.Tilt = convert.Optional[quantity.Angle]{} }},
	} {
		// Only where the file says so: that a station was taken out since is no reason to doubt what it said.
		if c := in.Channels.Of(f.field); c != nil && c.From == configs.FromFixed {
			f.clear()
		}
	}
	out := conv.Convert(r)
	if marked {
		out.Mark(was)
	}
	for _, c := range old.Causes {
		if !slices.Contains(ofConversion, c) && !slices.Contains(out.Causes, c) {
			out.Mark(&convert.Refusal{Code: c, Field: "the first result", Seen: "was marked so"})
		}
	}
	out.Sample, out.Average = old.Sample, old.Average
	return out
}

// isOfLine tells whether nothing came that could be computed with.
func isOfLine(c convert.Cause) bool {
	return slices.Contains([]convert.Cause{convert.FrameNumber, convert.FrameFields, convert.FrameNUL, convert.FrameOverlong, convert.FrameChecksum,
		convert.FrameFormat, convert.FrameAddress, convert.FrameErrorWord, convert.Silence, convert.PortGone,
		convert.SignalOffPoints, convert.LoopFault, convert.EchoTooNear, convert.FiducialsFew, convert.FiducialsDisagree, convert.ScoreLow,
		convert.EdgesNotOne, convert.ImageFrozen}, c)
}

func hasPosition(r *convert.Reading) bool { return r.High.Set || r.Low.Set || r.Indicated.Set }

// change is how far two results of one reading are apart; ok is false where one of them has no pressure.
func change(old, now *convert.Result) (pa float64, ok bool) {
	a, had := old.Pressure()
	b, has := now.Pressure()
	if !had || !has || math.IsNaN(b-a) {
		return 0, false
	}
	return b - a, true
}

// typicalOf is what working the positions of an instrument out of signals adds to their uncertainty, as a budget takes it.
func typicalOf(in *configs.Instrument) (out [2]convert.Extra, err error) {
	s, err := assemble.Signals(in)
	if s == nil || err != nil {
		return out, err
	}
	for i, limb := range []position.Limb{s.High, s.Low} {
		if limb != nil {
			out[i] = limb.Typical()
		}
	}
	return out, nil
}
