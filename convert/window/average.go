package window

import (
	"fmt"
	"math"
	"slices"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Options say how the readings of one instrument are averaged.
type Options struct {
	// Window is the shortest span of an average. More than zero.
	Window time.Duration
	// MinGood is the share of good readings, 0 to 1, under which an average is uncertain.
	MinGood float64
	// Convert turns the mean reading into a result.
	Convert func(convert.Reading) convert.Result
}

// Averager averages the readings of one instrument over windows that follow one another. It is not safe for concurrent
// use, and its memory does not grow with the length of the window.
type Averager struct {
	o Options

	open    bool
	start   time.Duration
	samples int

	high, low, pressure series
	sums                [numMeans]running
	extra               [2]extras // of the high and the low position
	min, max, squares   float64
	causes              []convert.Cause
	lastRefused         *convert.Refusal
}

// The quantities a mean reading has beside its positions.
const (
	meanIndicated = iota
	meanTemperature
	meanTilt
	meanAmbientTemperature
	meanAmbientPressure
	meanAmbientHumidity
	numMeans
)

// running is the mean of the values that are there.
type running struct {
	n    int
	mean float64
}

func (m *running) add(x float64) {
	m.n++
	m.mean += (x - m.mean) / float64(m.n)
}

// extras is the mean square of the uncertainty that each position brought with it, and the least of its degrees of freedom.
type extras struct {
	square running
	dof    float64
}

func (e *extras) add(x convert.Extra) {
	e.square.add(float64(x.U) * float64(x.U))
	if x.U > 0 && x.DOF > 0 && (e.dof == 0 || x.DOF < e.dof) {
		e.dof = x.DOF
	}
}

// NewAverager checks the options.
func NewAverager(o Options) (*Averager, error) {
	if o.Window <= 0 || !(o.MinGood >= 0 && o.MinGood <= 1) || o.Convert == nil {
		return nil, fmt.Errorf("averaging over %v with at least %v of the readings good; allowed: a window above 0, a share of 0 to 1, and a way to convert", o.Window, o.MinGood)
	}
	return &Averager{o: o}, nil
}

// Take takes the result of one reading and gives what becomes of it:
//
//   - a sample, marked as such, while the window is open;
//   - the averaged result, under the name, the time and the frame of the reading that closes the window, which is the first
//     at least Window after the window's first; it is one of the window's readings, and the next one opens the next window;
//   - the result itself, where the instrument is not heard: that is told at once, and what the window held stays samples.
//
// Good readings are those with a pressure. Every cause that one of them was marked with marks the average. Where none is
// good the closing result is bad, with the latest reason.
func (a *Averager) Take(r convert.Result) convert.Result {
	if w := r.Refusal; w != nil && (w.Code == convert.Silence || w.Code == convert.PortGone) {
		a.reset()
		return r
	}
	if !a.open {
		a.open, a.start = true, r.SinceStart
	}
	a.samples++
	if pa, ok := r.Pressure(); ok {
		a.add(&r, pa)
	} else {
		a.lastRefused = r.Refusal
	}
	if r.SinceStart-a.start < a.o.Window {
		r.Sample = true
		return r
	}
	out := a.close(&r)
	a.reset()
	return out
}

// Restart lets go of the open window: its readings stay samples, and the next reading opens another. It is for a new zero, as
// positions before and after it have one mean, and their pressures have none.
func (a *Averager) Restart() { a.reset() }

// Waiting is how many readings the open window holds.
func (a *Averager) Waiting() int { return a.samples }

func (a *Averager) reset() {
	a.high.reset()
	a.low.reset()
	a.pressure.reset()
	*a = Averager{o: a.o, high: a.high, low: a.low, pressure: a.pressure, causes: a.causes[:0]}
}

// add takes a good reading into the window.
func (a *Averager) add(r *convert.Result, pa float64) {
	if a.pressure.n == 0 {
		a.min, a.max = pa, pa
	}
	a.min, a.max = math.Min(a.min, pa), math.Max(a.max, pa)
	before := a.pressure.mean
	a.pressure.add(pa)
	a.squares += (pa - before) * (pa - a.pressure.mean)
	if r.High.Set {
		a.high.add(float64(r.High.V))
		a.extra[0].add(r.HighExtra)
	}
	if r.Low.Set {
		a.low.add(float64(r.Low.V))
		a.extra[1].add(r.LowExtra)
	}
	for i, v := range [numMeans]convert.Optional[float64]{
		r.Indicated, plain(r.Temperature), plain(r.Tilt), plain(r.AmbientTemperature), plain(r.AmbientPressure), plain(r.AmbientHumidity),
	} {
		if v.Set {
			a.sums[i].add(v.V)
		}
	}
	for _, c := range r.Causes {
		if !slices.Contains(a.causes, c) {
			a.causes = append(a.causes, c)
		}
	}
}

// close makes the averaged result.
func (a *Averager) close(last *convert.Result) convert.Result {
	about := &convert.Average{Window: last.SinceStart - a.start, Samples: a.samples, Good: a.pressure.n,
		MinPa: math.NaN(), MeanPa: math.NaN(), MaxPa: math.NaN(), SDPa: math.NaN()}
	if about.Good == 0 {
		out := *last // it is refused as well
		out.Average = about
		return out
	}
	about.MinPa, about.MeanPa, about.MaxPa = a.min, a.pressure.mean, a.max
	if about.Good > 1 {
		about.SDPa = math.Sqrt(math.Max(a.squares, 0) / float64(about.Good-1))
	}
	out := a.convert(last)
	for _, c := range a.causes {
		if !slices.Contains(out.Causes, c) {
			out.Mark(&convert.Refusal{Code: c, Field: "a reading of the average", Seen: "was marked so"})
		}
	}
	if about.GoodFraction() < a.o.MinGood {
		out.Mark(&convert.Refusal{Code: convert.AverageFewGood, Field: "average", Seen: fmt.Sprintf("%d good of %d readings", about.Good, about.Samples),
			Allowed: fmt.Sprintf("at least %.3g of them good", a.o.MinGood), Check: "why readings are refused"})
	}
	out.Average = about
	return out
}

// convert works out the result of the mean reading.
func (a *Averager) convert(last *convert.Result) convert.Result {
	m := last.Reading
	m.Refusal = nil
	m.High, m.Low = mean[quantity.Length](&a.high.running), mean[quantity.Length](&a.low.running)
	m.Indicated = mean[float64](&a.sums[meanIndicated])
	m.Temperature = mean[quantity.Temperature](&a.sums[meanTemperature])
	m.Tilt = mean[quantity.Angle](&a.sums[meanTilt])
	m.AmbientTemperature = mean[quantity.Temperature](&a.sums[meanAmbientTemperature])
	m.AmbientPressure = mean[quantity.AbsolutePressure](&a.sums[meanAmbientPressure])
	m.AmbientHumidity = mean[quantity.Ratio](&a.sums[meanAmbientHumidity])

	uHigh, dofHigh := a.high.ofMean()
	uLow, dofLow := a.low.ofMean()
	if m.Indicated.Set { // a scale in a unit of pressure: its height follows from the pressure
		uLow, dofLow = 1e-4, 1
	}
	if uLow > 0 && (uHigh > 0 || m.Indicated.Set) {
		uHigh, dofHigh, uLow, dofLow = a.together(m, uHigh, dofHigh, uLow, dofLow)
	}
	m.HighExtra, m.LowExtra = a.extra[0].with(uHigh, dofHigh), a.extra[1].with(uLow, dofLow)
	return a.o.Convert(m)
}

// together scales what the scatter of two positions gives so that the pressure gets the uncertainty that its own scatter
// has. One pressure moves both menisci at once, so the two are no independent inputs, and taken for such would give too
// little where they move apart and too much where they move alike. Source: JCGM 100:2008, 4.2.3 applied to the values of
// the measurand, as 4.1.4 allows, note.
func (a *Averager) together(m convert.Reading, uHigh, dofHigh, uLow, dofLow float64) (uh, dh, ul, dl float64) {
	m.HighExtra, m.LowExtra = convert.Extra{}, convert.Extra{} // what the signal of the last reading brought is no scatter
	without := a.o.Convert(m).CombinedU
	m.HighExtra, m.LowExtra = convert.Extra{U: quantity.Length(uHigh)}, convert.Extra{U: quantity.Length(uLow)}
	with := a.o.Convert(m).CombinedU
	added := with*with - without*without
	u, dof := a.pressure.ofMean()
	if u == 0 {
		return 0, 0, 0, 0
	}
	if !(added > 1e-9*with*with) {
		return uHigh, dofHigh, uLow, dofLow // nothing next to the rest
	}
	by := u / math.Sqrt(added)
	if uHigh > 0 {
		// One scatter, told by as many degrees of freedom; as two inputs each has half of them, which together give no more.
		dof = math.Max(dof/2, 1)
	}
	return by * uHigh, dof, by * uLow, dof
}

// with joins what the readings brought with them, which averaging does not lessen, and the scatter of the mean. The
// degrees of freedom are those of JCGM 100:2008, G.4.1.
func (e *extras) with(u, dof float64) convert.Extra {
	own := e.square.mean
	total := own + u*u
	if total == 0 {
		return convert.Extra{}
	}
	w := 0.0
	if e.dof > 0 {
		w += own * own / e.dof
	}
	if dof > 0 {
		w += u * u * u * u / dof
	}
	out := convert.Extra{U: quantity.Length(math.Sqrt(total))}
	if w > 0 {
		out.DOF = total * total / w
	}
	return out
}

func plain[T ~float64](o convert.Optional[T]) convert.Optional[float64] {
	return convert.Optional[float64]{V: float64(o.V), Set: o.Set}
}

func mean[T ~float64](m *running) convert.Optional[T] {
	if m.n == 0 {
		return convert.Optional[T]{}
	}
	return convert.Some(T(m.mean))
}
