package bridge

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/caution"
	"manobridge/cmd/manobridge/operate/control"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish/journal"
)

// The bounds of a zero that is being taken.
const (
	shortestZero = time.Second
	longestZero  = 10 * time.Minute
	mostCollect  = 100_000 // readings, some 60 MB
)

// collecting gathers readings while both ports are open. The loop fills it; once done is closed, whoever waits has it.
type collecting struct {
	lasts    time.Duration
	began    bool
	start    time.Duration
	observed zeroing.Observed
	over     bool
	done     chan struct{}
}

// take takes in a result as the conversion made it.
func (c *collecting) take(r *convert.Result) {
	if c.over {
		return
	}
	if !c.began {
		c.began, c.start = true, r.SinceStart
	}
	if _, ok := r.Pressure(); ok {
		kept := *r
		kept.Frame, kept.Causes = nil, slices.Clone(r.Causes)
		c.observed.Results = append(c.observed.Results, kept)
	} else if len(r.Causes) > 0 {
		c.observed.Bad[r.Causes[0]]++
	}
	if r.SinceStart-c.start >= c.lasts || len(c.observed.Results) >= mostCollect {
		c.end()
	}
}

func (c *collecting) end() {
	if !c.over {
		c.over = true
		close(c.done)
	}
}

// ZeroArgs are the arguments of the request "zero".
type ZeroArgs struct {
	For           time.Duration `json:"for_ns,omitempty"`
	BothPortsOpen bool          `json:"both_ports_open,omitempty"` // a person confirmed it
	Drop          bool          `json:"drop,omitempty"`
}

// ZeroReport is what is found and left of a zero.
type ZeroReport struct {
	Instrument string    `json:"instrument"`
	Time       time.Time `json:"time"`
	Who        string    `json:"who"`
	Why        string    `json:"why"`
	Readings   int       `json:"readings"`
	LastedS    float64   `json:"lasted_s"`

	HighMM       *float64 `json:"high_mm,omitempty"`
	HighUMM      *float64 `json:"high_u_mm,omitempty"`
	LowMM        *float64 `json:"low_mm,omitempty"`
	LowUMM       *float64 `json:"low_u_mm,omitempty"`
	Reading      *float64 `json:"reading,omitempty"`
	ReadingU     *float64 `json:"reading_u,omitempty"`
	TemperatureC float64  `json:"temperature_c"`
	AsFoundPa    float64  `json:"as_found_pa"`
	AsFoundUPa   float64  `json:"as_found_expanded_uncertainty_pa"`
	AsLeftPa     float64  `json:"as_left_pa"`
	AsLeftUPa    float64  `json:"as_left_expanded_uncertainty_pa"`
	ConfigBefore string   `json:"config_before"`
	Config       string   `json:"config"`
	Text         string   `json:"text"`
}

// zero takes the zero of an instrument, or drops those that were taken.
func (b *Bridge) zero(ctx context.Context, r control.Request) control.Answer {
	if no := b.refusedRequest(r); no != nil {
		return *no
	}
	var args ZeroArgs
	if err := json.Unmarshal(r.Args, &args); err != nil {
		return control.Refuse(control.CodeMalformed, "%v", err)
	}
	in := assemble.Instrument(b.asInFile(), r.Subject)
	if in == nil {
		return control.Refuse("no-such-instrument", "%s is not in the configuration of this bridge any more", r.Subject)
	}
	if args.Drop {
		return b.dropZero(ctx, r, in)
	}
	switch {
	case in.Geometry.Kind == configs.Sealed:
		return control.Refuse("zero-not-for-kind", "%s is closed over vapour and measures against vacuum: with its port open it shows the pressure of the air, and that is no zero", r.Subject)
	case !args.BothPortsOpen:
		return control.Refuse("zero-not-confirmed", "nobody has confirmed that both ports of %s are open to the same still air; nothing was changed", r.Subject)
	case args.For < shortestZero || args.For > longestZero:
		return control.Refuse("zero-time", "a zero over %s; allowed: %s to %s", args.For, shortestZero, longestZero)
	}
	return b.takeZero(ctx, r, in, args.For)
}

func (b *Bridge) takeZero(ctx context.Context, r control.Request, in *configs.Instrument, lasts time.Duration) control.Answer {
	c := &collecting{lasts: lasts, observed: zeroing.Observed{Bad: map[convert.Cause]int{}}, done: make(chan struct{})}
	var gone, busy, out bool
	var conv *convert.Converter
	var before string
	err := b.inLoop(ctx, func() {
		if b.instruments[r.Subject] == nil {
			gone = true
			return
		}
		busy, out = b.hand.zeroing[r.Subject] != nil, b.hand.serviced[r.Subject] != nil
		if !busy {
			b.hand.zeroing[r.Subject] = c
			conv, before = b.instruments[r.Subject].converter, b.instruments[r.Subject].set.Hash
		}
	})
	switch {
	case err != nil:
		return stopped(err)
	case gone:
		return control.Refuse("no-such-instrument", "%s is not in the configuration of this bridge any more", r.Subject)
	case busy:
		return control.Refuse("zero-busy", "the zero of %s is being taken already", r.Subject)
	}
	b.o.Log.Info("the zero of an instrument is being taken: its results are marked as a function check meanwhile", "code", string(convert.ZeroCheck), "instrument", r.Subject, "by", r.User, "why", r.Why, "for_s", lasts.Seconds())
	answer := b.finishZero(ctx, r, in, c, conv, before)
	// Whatever came of it, the function check ends. A loop that has ended marks nothing any more.
	_ = b.inLoop(context.WithoutCancel(ctx), func() { delete(b.hand.zeroing, r.Subject) })
	if !answer.Done {
		b.o.Log.Warn("no zero was taken; the one before holds", "code", answer.Code, "instrument", r.Subject, "by", r.User, "reason", answer.Text)
	} else if out {
		answer.Text += "\n" + r.Subject + " is still out for maintenance; give it back with service --back."
	}
	return answer
}

// finishZero waits until enough was read, works out the zero, makes it durable and has it hold.
func (b *Bridge) finishZero(ctx context.Context, r control.Request, in *configs.Instrument, c *collecting, conv *convert.Converter, before string) control.Answer {
	patience := time.NewTimer(c.lasts + 5*time.Second) // for one that sends nothing
	defer patience.Stop()
	select {
	case <-c.done:
	case <-patience.C:
		if err := b.inLoop(ctx, c.end); err != nil {
			return stopped(err)
		}
	case <-b.hand.ended:
		return stopped(errStopping)
	case <-ctx.Done():
		return stopped(context.Canceled)
	}
	t, err := zeroing.Take(b.asInFile(), in, conv, c.observed)
	var no *zeroing.Refused
	if errors.As(err, &no) {
		return control.Refuse(no.Code, "%s", no.Text)
	}
	if err != nil {
		return control.Refuse(control.CodeFailed, "%v", err)
	}
	z := journal.ZeroTaken{Instrument: in.Name, Time: b.clock.Now().UTC(), Who: r.User, Why: r.Why, N: t.N, Tilt: t.Tilt, FileZeroHash: zeroing.Hash(in)}
	z.High, z.Low, z.Temperature = lengthTaken(t.High), lengthTaken(t.Low), temperatureTaken(t.Temperature)
	if m := t.Indicated; m.Set {
		z.Indicated = journal.Uncertain[float64]{V: convert.Some(m.Value), U: m.U}
	}
	if t.AsFound.Kind == convert.DifferentialValue {
		z.AsFound.V, z.AsFound.U = convert.Some(t.AsFound.Differential), t.AsFound.CombinedU
	}
	b.live.reloading.Lock() // until it holds, no other configuration comes into use
	defer b.live.reloading.Unlock()
	same := false
	if err := b.inLoop(ctx, func() { now := b.instruments[in.Name]; same = now != nil && now.converter == conv }); err != nil {
		return stopped(err)
	}
	if !same {
		return control.Refuse("zero-overtaken", "the configuration of %s was changed while its zero was being taken; take it again", in.Name)
	}
	fresh, set, err := b.instrumentWith(in, &z)
	if err != nil {
		return control.Refuse("zero-not-possible", "the instrument cannot be computed with that zero: %v", err)
	}
	left := fresh.Convert(t.Reading)
	if left.Refusal != nil {
		return control.Refuse("zero-not-possible", "the instrument gives no value with that zero: %v", left.Refusal)
	}
	if ctx.Err() != nil {
		return stopped(context.Canceled)
	}
	// From here on it is done as a whole, whoever has gone.
	kept := context.WithoutCancel(ctx)
	err = b.journal.AddCoefficientSet(kept, journal.CoefficientSet{Hash: set.Hash, Instrument: in.Name, Text: set.Text})
	if err == nil {
		_, err = b.journal.AddZero(kept, z)
	}
	if err != nil {
		return control.Refuse(control.CodeFailed, "the journal could not keep it, so the zero before holds: %v", err)
	}
	report := reportOf(&z, t, &left, before, set.Hash, in)
	b.act(ctx, journal.Act{Time: z.Time, Who: r.User, What: "zero", Subject: in.Name, Old: fmt.Sprintf("as found %.4g Pa ± %.2g Pa, config %s", report.AsFoundPa, report.AsFoundUPa, before),
		New: fmt.Sprintf("as left %.4g Pa ± %.2g Pa, config %s", report.AsLeftPa, report.AsLeftUPa, set.Hash), Why: r.Why})
	text := "The zero is kept and holds from the next reading on."
	if err := b.adopt(kept, in.Name, fresh, set); err != nil {
		text = "The zero is kept and holds from the next start on, as this run is stopping."
	}
	b.o.Log.Info("a zero was taken; it holds from the next reading on", "code", "zero-taken", "instrument", in.Name, "by", r.User, "why", r.Why,
		"readings", t.N, "as_found_pa", report.AsFoundPa, "as_found_expanded_uncertainty_pa", report.AsFoundUPa, "config", set.Hash)
	return control.Done(text, report)
}

func lengthTaken(m zeroing.Mean) (out journal.Uncertain[quantity.Length]) {
	if m.Set {
		out.V, out.U = convert.Some(quantity.Length(m.Value)), m.U
	}
	return out
}

func temperatureTaken(m zeroing.Mean) (out journal.Uncertain[quantity.Temperature]) {
	if m.Set {
		out.V = convert.Some(quantity.Temperature(m.Value))
	}
	return out
}

// instrumentWith builds an instrument with a zero that was taken, or as the file has it where z is nil.
func (b *Bridge) instrumentWith(in *configs.Instrument, z *journal.ZeroTaken) (*convert.Converter, assemble.Set, error) {
	held := map[string]*zeroing.Held{}
	if z != nil {
		held[in.Name] = &zeroing.Held{ZeroTaken: *z}
	}
	c, err := zeroing.Apply(b.asInFile(), held)
	if err != nil {
		return nil, assemble.Set{}, err
	}
	with := assemble.Instrument(c, in.Name)
	conv, err := assemble.Converter(c, with)
	if err != nil {
		return nil, assemble.Set{}, err
	}
	set, err := assemble.CoefficientSet(c, with)
	return conv, set, err
}

// adopt has the loop compute an instrument anew from the next reading on, and tells the broker. The caller holds reloading.
func (b *Bridge) adopt(ctx context.Context, name string, conv *convert.Converter, set assemble.Set) error {
	c, _, err := b.withZeros(ctx, b.asInFile())
	if err != nil {
		return err
	}
	return b.inLoop(ctx, func() {
		if in := b.instruments[name]; in != nil {
			in.converter, in.set = conv, set
			if in.average != nil {
				in.average.Restart() // no average over two zeros
			}
			b.converterReplaced(assemble.Instrument(c, name))
		}
		if b.mqtt != nil && c.Publish.MQTT != nil {
			o := b.mqttOptions(c, c.Publish.MQTT, b.instruments)
			b.mqtt.SetInstruments(o.Instruments, o.About)
		}
		b.mu.Lock()
		defer b.mu.Unlock()
		b.o.Config = c
	})
}

// withZeros puts the zeros that were taken in the place of those of a file.
func (b *Bridge) withZeros(ctx context.Context, c *configs.Config) (*configs.Config, map[string]*zeroing.Held, error) {
	zeros, err := b.journal.Zeros(ctx, "")
	if err != nil {
		return nil, nil, err
	}
	held := zeroing.Of(c, zeros)
	with, err := zeroing.Apply(c, held)
	return with, held, err
}

// dropZero ends the zeros that were taken under the zero of the file, so that the file holds again.
func (b *Bridge) dropZero(ctx context.Context, r control.Request, in *configs.Instrument) control.Answer {
	b.live.reloading.Lock()
	defer b.live.reloading.Unlock()
	zeros, err := b.journal.Zeros(ctx, in.Name)
	if err != nil {
		return control.Refuse(control.CodeFailed, "%v", err)
	}
	zeros = slices.DeleteFunc(zeros, func(z journal.ZeroTaken) bool { return !z.Dropped.IsZero() })
	if len(zeros) == 0 {
		return control.Refuse("no-zero-taken", "no zero was taken on %s; the file holds", in.Name)
	}
	conv, set, err := b.instrumentWith(in, nil)
	if err != nil {
		return control.Refuse(control.CodeFailed, "%v", err)
	}
	now := b.clock.Now().UTC()
	kept := context.WithoutCancel(ctx)
	if err := b.journal.AddCoefficientSet(kept, journal.CoefficientSet{Hash: set.Hash, Instrument: in.Name, Text: set.Text}); err != nil {
		return control.Refuse(control.CodeFailed, "the journal could not keep it, so nothing was changed: %v", err)
	}
	for _, z := range zeros { // the oldest first: the one that holds goes last, so that a stop in between changes nothing
		if err := b.journal.DropZero(kept, z.ID, now); err != nil {
			return control.Refuse(control.CodeFailed, "the journal could not keep it; ask again: %v", err)
		}
	}
	last := zeros[len(zeros)-1]
	b.act(ctx, journal.Act{Time: now, Who: r.User, What: "zero-drop", Subject: in.Name, Old: fmt.Sprintf("zero taken %s by %s", last.Time.UTC().Format(time.RFC3339), last.Who), New: "zero of the file, config " + set.Hash, Why: r.Why})
	if err := b.adopt(kept, in.Name, conv, set); err != nil {
		return control.Done("Dropped; the zero of the file holds from the next start on.", nil)
	}
	b.o.Log.Info("the zero that was taken is dropped; that of the file holds from the next reading on", "code", "zero-dropped", "instrument", in.Name, "by", r.User, "why", r.Why, "config", set.Hash)
	return control.Done(fmt.Sprintf("The zero taken %s by %s is dropped; that of the file holds from the next reading on.", last.Time.UTC().Format(time.RFC3339), last.Who), nil)
}

func reportOf(z *journal.ZeroTaken, t *zeroing.Taken, left *convert.Result, before, after string, in *configs.Instrument) ZeroReport {
	p := ZeroReport{Instrument: z.Instrument, Time: z.Time, Who: z.Who, Why: z.Why, Readings: t.N, LastedS: t.Lasted.Seconds(),
		TemperatureC: z.Temperature.V.V.Celsius(), ConfigBefore: before, Config: after, Text: t.String(in, left)}
	put := func(m zeroing.Mean, by float64, v, u **float64) {
		if m.Set {
			value, uncertainty := m.Value*by, m.U*by
			*v, *u = &value, &uncertainty
		}
	}
	put(t.High, 1000, &p.HighMM, &p.HighUMM)
	put(t.Low, 1000, &p.LowMM, &p.LowUMM)
	put(t.Indicated, 1, &p.Reading, &p.ReadingU)
	p.AsFoundPa, _ = t.AsFound.Pressure()
	p.AsLeftPa, _ = left.Pressure()
	p.AsFoundUPa, p.AsLeftUPa = t.AsFound.ExpandedU, left.ExpandedU
	for _, c := range caution.For(in.Liquid) {
		p.Text += "  " + c + "\n"
	}
	return p
}

// asInFile is the configuration as the file has it, without the zeros that were taken.
func (b *Bridge) asInFile() *configs.Config {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.file
}
