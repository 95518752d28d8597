package diagnose

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// line gives a Watch results made by hand, one a second.
type line struct {
	t   testing.TB
	w   *Watch
	s   int
	has map[convert.Cause]string
}

func newLine(t testing.TB, o Options, m Memory) *line {
	t.Helper()
	w, err := New(o, m)
	if err != nil {
		t.Fatal(err)
	}
	return &line{t: t, w: w}
}

// sees gives n results; change makes the i-th.
func (l *line) sees(n int, change func(i int, r *convert.Result)) {
	for i := range n {
		l.s++
		at := time.Duration(l.s) * time.Second
		r := convert.Result{Reading: convert.Reading{Name: convert.Name{Run: "r", Instrument: "duct", Seq: uint64(l.s)}, ReceivedAt: midnight.Add(at), SinceStart: at,
			Low: convert.Some(quantity.Millimetres(100 + float64(l.s%7))), Temperature: convert.Some(quantity.Celsius(20))},
			Kind: convert.DifferentialValue, Differential: 100, ExpandedU: 1}
		change(i, &r)
		l.has = map[convert.Cause]string{}
		for _, f := range l.w.See(&r) {
			if f.Seen == "" || f.Do == "" {
				l.t.Errorf("got %+v, want what was seen and what to do", f)
			}
			l.has[f.Code] = f.Seen
		}
	}
}

func (l *line) want(when string, codes ...convert.Cause) {
	l.t.Helper()
	var got []convert.Cause
	for code := range l.has {
		got = append(got, code)
	}
	slices.Sort(got)
	slices.Sort(codes)
	if !slices.Equal(got, codes) {
		l.t.Errorf("%s: got %v, want %v", when, l.has, codes)
	}
}

func steady(int, *convert.Result) {}

func TestStandingStill(t *testing.T) {
	l := newLine(t, Options{}, Memory{})
	stuck := func(_ int, r *convert.Result) { r.Low = convert.Some(quantity.Millimetres(104)) }
	l.sees(300, stuck)
	l.want("stands from the start: nothing is usual yet")
	l.sees(600, steady)
	l.sees(59, stuck)
	l.want("59 s")
	l.sees(10, stuck)
	l.want("69 times, over a minute", convert.ValueStill)
	l.sees(600, stuck)
	l.want("over ten minutes", convert.ValueStill, convert.ValueFrozen)
	l.sees(holdSeconds, steady)
	l.want("it moves, and that is believed after a minute")
}

const holdSeconds = int(holdOff/time.Second) + 2

// A digitizer in steps so coarse that it stands still of itself is not judged.
func TestCoarseDigitizerIsNotJudged(t *testing.T) {
	l := newLine(t, Options{}, Memory{})
	l.sees(8000, func(i int, r *convert.Result) { r.Low = convert.Some(quantity.Millimetres(100 + float64(i/30%2))) })
	l.sees(3600, func(_ int, r *convert.Result) { r.Low = convert.Some(quantity.Millimetres(100)) })
	l.want("a coarse digitizer in a quiet hour")
}

func TestSoak(t *testing.T) {
	l := newLine(t, Options{SoakKPerH: 6}, Memory{})
	warming := func(perHour float64) func(int, *convert.Result) {
		return func(i int, r *convert.Result) {
			r.Temperature = convert.Some(quantity.Celsius(20 + perHour/3600*float64(l.s)))
		}
	}
	l.sees(1800, warming(5))
	l.want("5 K/h")
	l = newLine(t, Options{SoakKPerH: 6}, Memory{})
	l.sees(1800, warming(-7))
	l.want("7 K/h", convert.TemperatureChanging)
}

func TestPulsation(t *testing.T) {
	shakes := func(pa float64) func(int, *convert.Result) {
		return func(i int, r *convert.Result) {
			r.Differential = quantity.DifferentialPressure(100 + pa*float64(i%2*2-1))
		}
	}
	l := newLine(t, Options{PulsationPa: 5}, Memory{})
	l.sees(300, shakes(4))
	l.want("4 Pa either way")
	l.sees(45, shakes(6))
	l.want("6 Pa, for less than a minute")
	l.sees(60, shakes(6))
	l.want("6 Pa for longer", convert.Pulsation)
}

func TestSwapped(t *testing.T) {
	l := newLine(t, Options{Range: convert.Some(convert.Span{Low: 0, High: 400})}, Memory{})
	negative := func(pa float64) func(int, *convert.Result) {
		return func(_ int, r *convert.Result) { r.Differential = quantity.DifferentialPressure(pa) }
	}
	l.sees(900, negative(-9))
	l.want("-9 Pa: within 2 U and 2 % of the range")
	l.sees(299, negative(-100))
	l.want("-100 Pa for less than five minutes")
	l.sees(5, negative(-100))
	l.want("-100 Pa for longer", convert.LineSwapped)
}

// The room's noise is there for two days, then the line is pinched: the pressure stands, and nothing but the digitizer's
// noise is left.
func TestBlocked(t *testing.T) {
	b := newBench(t, 3, Options{})
	b.h.noNight, b.h.rumble = true, 8
	for range 2*86400 + 40000 { // until noon of the third day
		b.second()
	}
	pinched := b.h.pressure
	found := 0
	for s := 1; s <= 4*3600 && found == 0; s++ {
		b.h.pressure, b.h.drift, b.h.doorUntil = pinched, 0, 0
		b.s++
		high, low, celsius := b.h.positionsAt(float64(b.s), pinched)
		at := time.Duration(b.s) * time.Second
		r := b.c.Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: "total", Seq: uint64(b.s)}, ReceivedAt: midnight.Add(at), SinceStart: at,
			High: convert.Some(quantity.Millimetres(high)), Low: convert.Some(quantity.Millimetres(low)), Temperature: convert.Some(quantity.Celsius(celsius))})
		for _, f := range b.w.See(&r) {
			if f.Code == convert.LineBlocked {
				found = s
			}
		}
	}
	if found == 0 {
		t.Fatal("a pinched line was not found in four hours")
	}
	t.Logf("pinched line found after %v", time.Duration(found)*time.Second)
}

func TestLineErrors(t *testing.T) {
	l := newLine(t, Options{}, Memory{})
	every := func(n int) func(int, *convert.Result) {
		return func(i int, r *convert.Result) {
			if i%n == 0 {
				*r = convert.Refused(convert.Reading{Name: r.Name, SinceStart: r.SinceStart, Refusal: &convert.Refusal{Code: convert.FrameChecksum}})
			}
		}
	}
	l.sees(2000, every(100))
	l.want("1 % of the frames")
	l.sees(2000, every(50))
	l.want("2 %", convert.LineErrors)
	if seen := l.has[convert.LineErrors]; !strings.Contains(seen, "20 of the last 1000") {
		t.Errorf("got %q, want 20 of 1000", seen)
	}
}

func TestLevelCalibrationSettling(t *testing.T) {
	l := newLine(t, Options{LevelWithin: 0.005, ZeroTilt: 0.001, CalibrationDue: midnight.Add(30 * time.Second), Settle: 10 * time.Second}, Memory{})
	l.sees(1, steady)
	l.want("the first second", convert.Settling)
	l.sees(10, steady)
	l.want("ten seconds later")
	l.sees(30, steady)
	l.want("the day has passed", convert.CalibrationOverdue)
	l.sees(1, func(_ int, r *convert.Result) { r.Tilt = convert.Some(quantity.Radians(-0.0041)) })
	l.want("5.1 mrad off", convert.CalibrationOverdue, convert.NotLevel)
	l.sees(1, func(_ int, r *convert.Result) {
		*r = convert.Refused(convert.Reading{Name: r.Name, SinceStart: r.SinceStart, Refusal: &convert.Refusal{Code: convert.PortGone}})
	})
	l.sees(1, steady)
	l.want("the port was gone", convert.CalibrationOverdue, convert.NotLevel, convert.Settling)
}

// A zero that is taken on a base that has moved is the new level: 0.02 rad is 0.019 off the zero at 0.001 rad, and 0 off one
// that was taken there; back at 0.001 rad it stands 0.019 off that. Allowed: 0.005.
func TestANewZeroIsTheNewLevel(t *testing.T) {
	l := newLine(t, Options{LevelWithin: 0.005, ZeroTilt: 0.001}, Memory{})
	tilted := func(rad float64) func(int, *convert.Result) {
		return func(_ int, r *convert.Result) { r.Tilt = convert.Some(quantity.Angle(rad)) }
	}
	l.sees(3, tilted(0.02))
	l.want("moved", convert.NotLevel)
	l.w.Zeroed(0.02)
	l.sees(3, tilted(0.02))
	l.want("zeroed there")
	l.sees(3, tilted(0.001))
	l.want("moved back", convert.NotLevel)
}

// What is learned survives a restart, so that a slow loss is not begun anew.
func TestMemorySurvives(t *testing.T) {
	b := newBench(t, 7, Options{})
	b.h.lostShare = 0.01
	if _, found := b.until(convert.LiquidLow, 3*time.Hour); !found {
		t.Fatal("the loss was not found")
	}
	kept, err := json.Marshal(b.w.Memory())
	if err != nil {
		t.Fatal(err)
	}
	var m Memory
	if err := json.Unmarshal(kept, &m); err != nil {
		t.Fatal(err)
	}
	again := newBench(t, 8, Options{})
	again.h.lostShare = 0.01
	if again.w, err = New(again.w.o, m); err != nil {
		t.Fatal(err)
	}
	if d, found := again.until(convert.LiquidLow, time.Minute); !found {
		t.Errorf("after a restart the loss was not known within a minute")
	} else {
		t.Logf("known again after %v", d)
	}
	again.w.Zeroed(0)
	for range holdSeconds {
		again.second()
	}
	if f := again.second(); slices.ContainsFunc(f, func(f Finding) bool { return f.Code == convert.LiquidLow }) {
		t.Error("a new zero did not begin the balance anew")
	}
}
