package alarm

import (
	"math"
	"time"
)

// Excursion is one crossing of a limit by the value itself, whatever its uncertainty and however short: delays and decision
// rules keep alarms quiet, not the record.
type Excursion struct {
	Limit string `json:"limit"`
	// Run and the two clocks at its start, and its length on the monotonic one. Open tells that it goes on.
	Run    string        `json:"run"`
	Start  time.Time     `json:"start"`
	End    time.Time     `json:"end,omitzero"`
	Lasted time.Duration `json:"lasted_ns"`
	Open   bool          `json:"open"`

	// Extreme is the value furthest beyond the bound, Bound the one that was crossed, in Pa or Pa/s.
	Extreme float64 `json:"extreme"`
	Bound   float64 `json:"bound"`
	// Integral is ∫ beyond dt: Pa·s, or Pa for a rate. Time between readings that say nothing is not in it.
	Integral float64 `json:"integral_pa_s"`
	// Unknown is how much of it nothing was known.
	Unknown time.Duration `json:"unknown_ns"`

	// Readings by verdict.
	Inside     int `json:"inside"`
	Outside    int `json:"outside"`
	CannotTell int `json:"cannot_tell"`

	// Door is what the door contact said during it: empty where there is none, otherwise closed, open or both.
	Door string `json:"door,omitempty"`

	// The alarm that came of it, where one did.
	Alarmed      time.Time `json:"alarmed,omitzero"`
	Acknowledged time.Time `json:"acknowledged,omitzero"`
	By           string    `json:"by,omitempty"`
	Comment      string    `json:"comment,omitempty"`
}

// Crossings follows one limit and accounts for every excursion.
type Crossings struct {
	l      Limits
	maxGap time.Duration
	open   *Excursion
	began  time.Duration
	last   Value
	has    bool // whether last is a known value
	seen   time.Duration
	hour   rolling
	day    rolling
}

// NewCrossings follows l. maxGap is the longest time between two readings across which the value is taken to go straight
// from one to the other.
func NewCrossings(l Limits, maxGap time.Duration) *Crossings {
	return &Crossings{l: l, maxGap: maxGap, hour: newRolling(time.Minute, 60), day: newRolling(15*time.Minute, 96)}
}

// Moment is what is known beside a value.
type Moment struct {
	Run   string
	Limit string
	Wall  time.Time
	Door  string // "", "open" or "closed"
}

// Add takes the next value. It gives the excursion that is open or has just ended, nil where there is none; changed tells
// that one began or ended.
func (c *Crossings) Add(v Value, m Moment) (e *Excursion, changed bool) {
	defer func() { c.last, c.has, c.seen = v, v.Known(), v.At }()
	dt := v.At - c.seen
	if !v.Known() {
		if c.open != nil {
			c.open.Unknown += max(dt, 0)
			c.open.Lasted = v.At - c.began
		}
		return c.open, false
	}
	d := c.l.beyond(v.V)
	straight := c.has && dt > 0 && dt <= c.maxGap
	if c.open != nil && !straight && dt > 0 && c.has {
		c.open.Unknown += dt
	} else if c.open != nil && !c.has && dt > 0 {
		c.open.Unknown += dt
	}
	var area float64
	var outside time.Duration
	into := v.At
	if straight {
		before := c.last.V
		for _, bound := range [2][2]float64{{before - c.l.High, v.V - c.l.High}, {c.l.Low - before, c.l.Low - v.V}} {
			a, o, enter := beyondBetween(bound[0], bound[1], dt)
			area, outside = area+a, outside+o
			if bound[1] > 0 {
				into = c.seen + time.Duration(enter*float64(dt))
			}
		}
	}
	c.hour.add(v.At, outside)
	c.day.add(v.At, outside)
	switch {
	case d > 0 && c.open == nil:
		c.began = into
		c.open = &Excursion{Limit: m.Limit, Run: m.Run, Start: m.Wall.Add(into - v.At), Open: true, Extreme: v.V, Bound: c.bound(v.V)}
		changed = true
	case c.open == nil:
		return nil, false
	}
	e = c.open
	e.Integral += area
	e.Lasted = v.At - c.began
	if d > 0 {
		e.count(c.l.Judge(v.V, v.U))
		if d > c.l.beyond(e.Extreme) {
			e.Extreme, e.Bound = v.V, c.bound(v.V)
		}
	}
	e.door(m.Door)
	if d > 0 {
		return e, changed
	}
	end := v.At
	if straight {
		end = c.seen + outside
	}
	e.Open, e.End, e.Lasted = false, m.Wall.Add(end-v.At), end-c.began
	c.open = nil
	return e, true
}

// Open gives the excursion that goes on; nil where there is none.
func (c *Crossings) Open() *Excursion { return c.open }

// Outside gives for how long the value was beyond the limit in the last hour and the last day, each to within the edge of
// one bucket (a minute, a quarter of an hour).
func (c *Crossings) Outside(now time.Duration) (hour, day time.Duration) {
	return c.hour.sum(now), c.day.sum(now)
}

func (c *Crossings) bound(v float64) float64 {
	if v > c.l.High {
		return c.l.High
	}
	return c.l.Low
}

func (e *Excursion) count(v Verdict) {
	switch v {
	case Inside:
		e.Inside++
	case Outside:
		e.Outside++
	default:
		e.CannotTell++
	}
}

func (e *Excursion) door(now string) {
	if now != "" && e.Door != now {
		if e.Door != "" {
			now = "both"
		}
		e.Door = now
	}
}

// beyondBetween gives ∫ max(beyond, 0) dt along a straight line from a to b over dt, how long it was above 0, and the share
// of dt at which it came above.
func beyondBetween(a, b float64, dt time.Duration) (area float64, outside time.Duration, enter float64) {
	s := dt.Seconds()
	switch {
	case !(a > 0) && !(b > 0): // also where there is no such bound
		return 0, 0, 1
	case a > 0 && b > 0:
		return (a + b) / 2 * s, dt, 0
	case a > 0:
		share := a / (a - b)
		return a / 2 * share * s, time.Duration(math.Round(share * float64(dt))), 0
	}
	share := b / (b - a)
	return b / 2 * share * s, time.Duration(math.Round(share * float64(dt))), 1 - share
}

// rolling sums time over a window in buckets.
type rolling struct {
	width   time.Duration
	buckets []time.Duration
	head    int64 // number of the latest bucket
}

func newRolling(width time.Duration, n int) rolling {
	return rolling{width: width, buckets: make([]time.Duration, n)}
}

func (r *rolling) turn(now time.Duration) {
	to := int64(now / r.width)
	for n := 0; r.head < to && n < len(r.buckets); n++ {
		r.head++
		r.buckets[r.head%int64(len(r.buckets))] = 0
	}
	if r.head < to {
		clear(r.buckets)
		r.head = to
	}
}

func (r *rolling) add(now, d time.Duration) {
	r.turn(now)
	r.buckets[r.head%int64(len(r.buckets))] += d
}

func (r *rolling) sum(now time.Duration) (sum time.Duration) {
	r.turn(now)
	for _, d := range r.buckets {
		sum += d
	}
	return sum
}
