package diagnose

import (
	"fmt"
	"math"
	"time"

	"manobridge/convert"
)

const (
	pulsationOver = 30 * time.Second
	soakOver      = 10 * time.Minute
	// roomOver is the time over which the room's noise is looked at, roomLearn how many hours it must have been seen before: a
	// day with its night.
	roomOver  = 30 * time.Minute
	roomLearn = 24
	roomGone  = 2.0 // times the noise of the digitizer at most: nothing else is left
	roomClear = 4.0 // times that noise at least, in the quietest half hour so far: else its loss cannot be seen
	swapFor   = 5 * time.Minute
)

// pulsation finds a pressure that scatters too much.
type pulsation struct {
	limit float64
	r     ring
}

func (d *pulsation) see(r *convert.Result) (string, bool) {
	p, ok := r.Pressure()
	if !ok {
		return "", false
	}
	d.r.add(r.SinceStart, p, pulsationOver)
	if len(d.r.v) < 8 || d.r.span() < pulsationOver/2 {
		return "", false
	}
	if _, sd := d.r.mean(); sd > d.limit {
		return fmt.Sprintf("the pressure scatters by %.3g Pa within %v; allowed: %.3g Pa", sd, pulsationOver, d.limit), true
	}
	return "", true
}

func (*pulsation) finding() (convert.Cause, string) {
	return convert.Pulsation, "restrict both lines equally, average for longer, look for a pump or a flutter nearby"
}

// soak finds a temperature that changes too fast for liquid and scale to be at one.
type soak struct {
	limit float64 // K/h
	r     ring
}

func (d *soak) see(r *convert.Result) (string, bool) {
	if !r.Temperature.Set || r.Refusal != nil {
		return "", false
	}
	if n := len(d.r.at); n > 0 && r.SinceStart-d.r.at[n-1] < soakOver/256 {
		return "", false // enough for a line
	}
	d.r.add(r.SinceStart, float64(r.Temperature.V), soakOver)
	if len(d.r.v) < 8 || d.r.span() < soakOver/2 {
		return "", false
	}
	if rate := d.r.slope() * 3600; math.Abs(rate) > d.limit {
		return fmt.Sprintf("the liquid's temperature changes by %+.1f K/h; allowed: %.1f K/h", rate, d.limit), true
	}
	return "", true
}

func (*soak) finding() (convert.Cause, string) {
	return convert.TemperatureChanging, "keep sun, heaters and draughts off; wait until liquid and scale are at one temperature"
}

// RoomMemory is the noise of what is measured: the root of half the mean square from reading to reading, as a logarithm, so
// that a door does not count for hours.
type RoomMemory struct {
	Quietest float64       `json:"quietest_ln_pa"` // of any hour but the latest two, which may be those in which it went
	Pending  float64       `json:"pending_ln_pa"`  // the mean of the latest whole hour
	Hours    int           `json:"hours"`          // whole ones seen
	Sum      float64       `json:"sum_ln_pa_s"`    // of the hour that runs
	Seen     time.Duration `json:"seen_ns"`
}

// learn takes the noise of a while.
func (m *RoomMemory) learn(ln float64, dt time.Duration) {
	m.Sum += ln * dt.Seconds()
	if m.Seen += dt; m.Seen < time.Hour {
		return
	}
	mean := m.Sum / m.Seen.Seconds()
	if m.Hours == 1 || m.Hours > 1 && m.Pending < m.Quietest {
		m.Quietest = m.Pending
	}
	m.Pending, m.Sum, m.Seen = mean, 0, 0
	m.Hours++
}

// blocked finds a line that has lost the noise of the room while it shows a pressure.
type blocked struct {
	m    *RoomMemory
	now  smooth
	at   time.Duration
	last float64
	has  bool
}

func (d *blocked) see(r *convert.Result) (string, bool) {
	p, ok := r.Pressure()
	if !ok || r.Kind != convert.DifferentialValue {
		return "", false
	}
	step, dt := (p-d.last)/math.Sqrt2, min(r.SinceStart-d.at, time.Minute)
	first := !d.has
	d.has, d.last, d.at = true, p, r.SinceStart
	floor := digitizerNoise(r)
	if first || floor <= 0 {
		return "", false
	}
	d.now.add(r.SinceStart, math.Log(math.Max(math.Abs(step), floor/10)), roomOver/3)
	if d.now.Has < roomOver {
		return "", false
	}
	// The logarithm of a normal noise lies (ln 2 + γ)/2 = 0.635 below that of its standard deviation on the mean; γ is
	// Euler's constant.
	ln := d.now.V + 0.635
	noise, quietest := math.Exp(ln), math.Exp(d.m.Quietest)
	gone := noise < roomGone*floor
	learned := d.m.Hours >= roomLearn
	if !learned || !gone {
		d.m.learn(ln, dt)
	}
	if !learned || quietest < roomClear*floor {
		return "", true
	}
	if gone && math.Abs(p) > 2*r.ExpandedU {
		return fmt.Sprintf("the pressure varies by %.2g Pa from reading to reading, and never by less than %.2g Pa before", noise, quietest), true
	}
	return "", true
}

// digitizerNoise is what the positions alone make of a steady pressure, by their stated uncertainty.
func digitizerNoise(r *convert.Result) float64 {
	if len(r.Contributions) == 0 {
		return 0
	}
	return math.Abs(r.Contributions[0])
}

func (*blocked) finding() (convert.Cause, string) {
	return convert.LineBlocked, "look for a kinked, pinched or wet line, a closed valve, a tube off its tap"
}

// swapped finds a pressure that is negative where only positive ones can be.
type swapped struct {
	span  convert.Span
	from  time.Duration
	below bool
}

func (d *swapped) see(r *convert.Result) (string, bool) {
	p, ok := r.Pressure()
	if !ok {
		return "", false
	}
	if p >= -2*r.ExpandedU-0.02*(d.span.High-d.span.Low) {
		d.below = false
		return "", true
	}
	if !d.below {
		d.below, d.from = true, r.SinceStart
	}
	if r.SinceStart-d.from < swapFor {
		return "", true
	}
	return fmt.Sprintf("%.4g Pa for %v; range_pa begins at %.4g Pa", p, (r.SinceStart - d.from).Round(time.Second), d.span.Low), true
}

func (*swapped) finding() (convert.Cause, string) {
	return convert.LineSwapped, "look whether the two lines are on the right ports, and whether the flow is reversed"
}
