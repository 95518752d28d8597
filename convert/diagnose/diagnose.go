package diagnose

import (
	"fmt"
	"time"

	"manobridge/convert"
)

// Options are what is known of one instrument.
type Options struct {
	// Balance gives the volume balance of a result; nil where not both limbs are digitized.
	Balance func(*convert.Result) (convert.Balance, bool)
	// RangePa is the stated range; Set only where one is.
	Range convert.Optional[convert.Span]
	// PulsationPa is how much the pressure may scatter within half a minute, as a standard deviation; 0: not judged.
	PulsationPa float64
	// SoakKPerH is how fast the liquid's temperature may change, K/h; 0: not judged.
	SoakKPerH float64
	// LevelWithin is how far the base may stand off where it stood at the zero, rad; 0: not judged.
	LevelWithin float64
	// ZeroTilt is the tilt at the zero, rad.
	ZeroTilt float64
	// CalibrationDue is the day on which the calibration is overdue; zero: none stated.
	CalibrationDue time.Time
	// Settle is for how long after a start values are not to be believed; 0: they are at once.
	Settle time.Duration
}

// Finding is one thing that is wrong with an instrument now.
type Finding struct {
	Code  convert.Cause
	Seen  string
	Do    string
	Since time.Duration // since the start of the run
}

// Refusal gives the finding as the mark of a result.
func (f Finding) Refusal() *convert.Refusal {
	return &convert.Refusal{Code: f.Code, Field: "instrument", Seen: f.Seen, Check: f.Do}
}

// holdOff is how long a finding must be gone before it goes.
const holdOff = time.Minute

// detector looks for one thing. see tells what is wrong now, empty for nothing; ok is false where it cannot judge, which
// changes nothing.
type detector interface {
	see(r *convert.Result) (seen string, ok bool)
	finding() (convert.Cause, string) // the code, and what to do
}

// watched is a detector with what it found.
type watched struct {
	detector
	coming   bool // seen since that moment
	found    bool // and for as long as it needs
	needs    time.Duration
	since    time.Duration
	goneFrom time.Duration
	gone     bool // not seen any more, since goneFrom
	atOnce   bool // what is gone is gone
	seen     string
}

// Watch looks at one instrument. It is not safe for concurrent use.
type Watch struct {
	o     Options
	m     *Memory
	all   []*watched
	found []Finding
}

// New makes a Watch that goes on with what m remembers; the zero Memory is of an instrument never seen.
func New(o Options, m Memory) (*Watch, error) {
	for _, v := range []struct {
		name string
		v    float64
	}{{"pulsation", o.PulsationPa}, {"soak", o.SoakKPerH}, {"level", o.LevelWithin}} {
		if !(v.v >= 0) {
			return nil, fmt.Errorf("%s: %g; allowed: 0 and up", v.name, v.v)
		}
	}
	w := &Watch{o: o, m: &m}
	add := func(d detector) { w.all = append(w.all, &watched{detector: d}) }
	if o.Balance != nil {
		both := &balance{o: &w.o, m: &w.m.Balance}
		add(&broken{both})
		add(&lost{b: both})
	}
	still := &still{m: &w.m.Still}
	add(&stands{still})
	add(&frozen{still})
	if o.PulsationPa > 0 {
		add(&pulsation{limit: o.PulsationPa})
		w.all[len(w.all)-1].needs = 2 * pulsationOver // longer than a door or a fan that starts
	}
	if o.SoakKPerH > 0 {
		add(&soak{limit: o.SoakKPerH})
	}
	add(&blocked{m: &w.m.Room})
	if o.Range.Set && o.Range.V.Low >= 0 {
		add(&swapped{span: o.Range.V})
	}
	if o.LevelWithin > 0 {
		add(&level{within: o.LevelWithin, zero: o.ZeroTilt})
	}
	if !o.CalibrationDue.IsZero() {
		add(&overdue{due: o.CalibrationDue})
	}
	add(&lineErrors{})
	if o.Settle > 0 {
		add(&settling{d: o.Settle})
		w.all[len(w.all)-1].atOnce = true
	}
	return w, nil
}

// See takes the next result of the instrument, refused ones too, and gives what is wrong now. The slice holds until the next
// call. Marks made before do not matter to it.
func (w *Watch) See(r *convert.Result) []Finding {
	w.found = w.found[:0]
	for _, d := range w.all {
		seen, ok := d.see(r)
		switch {
		case ok && seen != "":
			if !d.coming {
				d.coming, d.since = true, r.SinceStart
			}
			d.found = d.found || r.SinceStart-d.since >= d.needs
			d.gone, d.seen = false, seen
		case ok && d.found && !d.gone && !d.atOnce:
			d.gone, d.goneFrom = true, r.SinceStart
		case ok && !d.found:
			d.coming = false
		case ok && d.found && (r.SinceStart-d.goneFrom >= holdOff || d.atOnce):
			d.found, d.gone, d.coming = false, false, false
		}
		if d.found {
			code, do := d.finding()
			w.found = append(w.found, Finding{Code: code, Seen: d.seen, Do: do, Since: d.since})
		}
	}
	return w.found
}

// Memory gives what must survive a restart.
func (w *Watch) Memory() Memory { return *w.m }

// Zeroed tells that a zero was taken, under a tilt in rad: the balance and the level count from there.
func (w *Watch) Zeroed(tilt float64) {
	w.o.ZeroTilt = tilt
	w.m.Balance = BalanceMemory{}
	for _, d := range w.all {
		switch of := d.detector.(type) {
		case *level:
			of.zero = tilt
			d.coming, d.found, d.gone = false, false, false
		case *broken, *lost:
			d.coming, d.found, d.gone = false, false, false
		}
	}
}

// Memory is what is usual for an instrument. It is kept over restarts, so that a slow loss is not begun anew.
type Memory struct {
	Balance BalanceMemory `json:"balance"`
	Still   StillMemory   `json:"still"`
	Room    RoomMemory    `json:"room"`
}
