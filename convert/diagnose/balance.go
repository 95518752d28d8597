package diagnose

import (
	"fmt"
	"math"
	"time"

	"manobridge/convert"
)

// What both limbs do together, in three speeds: the last seconds against the last minutes is a bubble or a broken column; the
// last hour against the zero is a loss.
const (
	fast     = 10 * time.Second
	slow     = 5 * time.Minute
	hourly   = time.Hour
	stepSure = 8   // standard deviations of the mean over the fast time
	stepMM   = 0.3 // mm, and never less than this
	stepFor  = 20 * time.Second
	// lossSure is how many standard uncertainties of the balance a loss must have, and lossMM how many mm.
	lossSure = 3
	lossMM   = 0.3
	// lossWithTemperature is the share of the thermal growth that is doubted where the charge is not stated: all of it.
	learnFor = 2 * time.Minute
)

// BalanceMemory is what is usual for the balance of an instrument, in mm.
type BalanceMemory struct {
	Slow smooth `json:"slow"`
	Hour smooth `json:"hour"`
	// Noise is the mean square of half the difference of neighbouring values.
	Noise smooth `json:"noise"`
	// Lasting is the state of a step that was found: where the balance stood before. It holds until it stands there again.
	Broken bool    `json:"broken"`
	Before float64 `json:"before"`
}

// balance follows the volume balance for the two detectors that use it.
type balance struct {
	o *Options
	m *BalanceMemory

	at    time.Duration
	know  bool // of the latest result
	now   convert.Balance
	near  ring
	last  float64
	began time.Duration // of what looks like a step
	step  bool
}

// take follows one result, once however many ask.
func (b *balance) take(r *convert.Result) bool {
	if r.SinceStart == b.at && b.at != 0 {
		return b.know
	}
	b.at, b.know = r.SinceStart, false
	if r.Refusal != nil {
		return false
	}
	now, ok := b.o.Balance(r)
	if !ok {
		return false
	}
	b.now, b.know = now, true
	mm := now.Rise.Millimetres()
	if len(b.near.v) > 0 {
		d := mm - b.last
		b.m.Noise.add(r.SinceStart, d*d/2, slow)
	}
	b.last = mm
	b.near.add(r.SinceStart, mm, fast)
	if !b.m.Broken && !b.step {
		b.m.Slow.add(r.SinceStart, mm, slow)
	}
	if !b.m.Broken {
		b.m.Hour.add(r.SinceStart, mm, hourly)
	}
	b.judge(r.SinceStart)
	return true
}

// judge looks for a step up from what the last minutes were: only a bubble or a broken column takes up room.
func (b *balance) judge(at time.Duration) {
	if b.m.Slow.Has < learnFor || len(b.near.v) < 3 {
		return
	}
	mean, _ := b.near.mean()
	sure := stepSure * math.Sqrt(b.m.Noise.V/float64(len(b.near.v)))
	limit := math.Max(stepMM, math.Max(sure, 2*b.now.U.Millimetres()/math.Sqrt2)) // the zero's part is the same in both
	if b.m.Broken {
		if mean-b.m.Before < limit/2 {
			b.m.Broken, b.step = false, false
		}
		return
	}
	if mean-b.m.Slow.V < limit {
		b.step = false
		return
	}
	if !b.step {
		b.step, b.began = true, at
	}
	if at-b.began >= stepFor {
		b.m.Broken, b.m.Before = true, b.m.Slow.V
	}
}

// broken finds a bubble or a broken column.
type broken struct{ b *balance }

func (d *broken) see(r *convert.Result) (string, bool) {
	if !d.b.take(r) {
		return "", false
	}
	if !d.b.m.Broken {
		return "", true
	}
	mean, _ := d.b.near.mean()
	return fmt.Sprintf("both limbs together stand %.2f mm higher than before, which no pressure does", mean-d.b.m.Before), true
}

func (*broken) finding() (convert.Cause, string) {
	return convert.ColumnBroken, "look for a bubble or a gap in the column; tap and tilt it out, then take the zero again"
}

// lost finds liquid that went.
type lost struct{ b *balance }

func (d *lost) see(r *convert.Result) (string, bool) {
	if !d.b.take(r) || d.b.m.Hour.Has < hourly || d.b.m.Broken {
		return "", false
	}
	mm := d.b.m.Hour.V
	u := d.b.now.U.Millimetres()
	if d.b.now.Charge == 0 {
		// The growth of an unknown volume with the temperature since the zero is not taken off.
		u = math.Hypot(u, 0.5)
	}
	if mm > -math.Max(lossMM, lossSure*u) {
		return "", true
	}
	seen := fmt.Sprintf("both limbs together stand %.2f mm lower than at the zero", -mm)
	if c := d.b.now.Charge.Millimetres(); c > 0 {
		seen += fmt.Sprintf(", %.1f %% of the liquid", -mm/c*100)
	}
	return seen, true
}

func (*lost) finding() (convert.Cause, string) {
	return convert.LiquidLow, "look for a leak, for liquid blown over, for evaporation; refill, then take the zero again"
}
