package window

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// tenPerMM is an instrument of 10 Pa per mm of (low − high) and no uncertainty of its own.
func tenPerMM(r convert.Reading) convert.Result {
	out := convert.Result{Reading: r, CoverageFactor: 2, EffectiveDOF: math.Inf(1)}
	if r.Refusal != nil {
		return convert.Refused(r)
	}
	out.Kind = convert.DifferentialValue
	out.Differential = quantity.DifferentialPressure(10 * (r.Low.V.Millimetres() - r.High.V.Millimetres()))
	out.CombinedU = 10 * 1000 * math.Hypot(float64(r.LowExtra.U), float64(r.HighExtra.U))
	out.ExpandedU = 2 * out.CombinedU
	return out
}

// low makes the result of one reading of the low limb.
func low(seq uint64, at time.Duration, mm, celsius float64) convert.Result {
	return tenPerMM(convert.Reading{Name: convert.Name{Run: "r", Instrument: "i", Seq: seq}, SinceStart: at,
		ReceivedAt: time.Unix(1000, 0).Add(at), Frame: []byte{byte(seq)},
		Low: convert.Some(quantity.Millimetres(mm)), Temperature: convert.Some(quantity.Celsius(celsius))})
}

func refused(seq uint64, at time.Duration, code convert.Cause) convert.Result {
	return convert.Refused(convert.Reading{Name: convert.Name{Run: "r", Instrument: "i", Seq: seq}, SinceStart: at, Refusal: &convert.Refusal{Code: code}})
}

func averager(t testing.TB, window time.Duration, least float64) *Averager {
	t.Helper()
	a, err := NewAverager(Options{Window: window, MinGood: least, Convert: tenPerMM})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

const s = time.Second

// Worked by hand: 10, 12, 14, 12 mm give 100, 120, 140, 120 Pa; mean 120 Pa, s² = (400 + 0 + 400 + 0)/3, s = 16.33 Pa
// (JCGM 100:2008, 4.2.1 and 4.2.2).
func TestAverageByHand(t *testing.T) {
	a := averager(t, 3*s, 0.8)
	for i, mm := range []float64{10, 12, 14} {
		got := a.Take(low(uint64(i+1), time.Duration(i)*s, mm, 20+float64(i)))
		if !got.Sample || got.Average != nil || got.Seq != uint64(i+1) {
			t.Fatalf("reading %d: got %+v, want a sample", i+1, got)
		}
	}
	got := a.Take(low(4, 3*s, 12, 23)) // exactly the window after the first
	if got.Sample || got.Average == nil {
		t.Fatalf("got %+v, want the average", got)
	}
	if got.Seq != 4 || got.SinceStart != 3*s || !slices.Equal(got.Frame, []byte{4}) || !got.ReceivedAt.Equal(time.Unix(1003, 0)) {
		t.Errorf("got %v at %v with frame %v, want those of the reading that closed the window", got.Name, got.SinceStart, got.Frame)
	}
	if p, _ := got.Pressure(); math.Abs(p-120) > 1e-9 || math.Abs(got.Low.V.Millimetres()-12) > 1e-12 || math.Abs(got.Temperature.V.Celsius()-21.5) > 1e-9 {
		t.Errorf("got %v Pa at %v mm and %v °C, want 120, 12 and 21.5", p, got.Low.V.Millimetres(), got.Temperature.V.Celsius())
	}
	av := *got.Average
	if av.Samples != 4 || av.Good != 4 || av.Window != 3*s || av.GoodFraction() != 1 {
		t.Errorf("got %+v, want 4 of 4 over 3 s", av)
	}
	if math.Abs(av.MinPa-100) > 1e-9 || math.Abs(av.MeanPa-120) > 1e-9 || math.Abs(av.MaxPa-140) > 1e-9 || math.Abs(av.SDPa-math.Sqrt(800.0/3)) > 1e-9 {
		t.Errorf("got %+v, want 100, 120, 140 and 16.33 Pa", av)
	}
	if got.LowExtra.U <= 0 || got.LowExtra.DOF < 1 || got.LowExtra.DOF > 3 {
		t.Errorf("got extra %+v, want the uncertainty of the mean with at most 3 degrees of freedom", got.LowExtra)
	}
	if next := a.Take(low(5, 4*s, 12, 23)); !next.Sample || a.Waiting() != 1 {
		t.Errorf("got %+v, want the first of the next window", next)
	}
}

// Worked by hand: two readings of limbs that move oppositely, 10 and 12 mm, 0 and -2 mm, give 100 and 140 Pa, so the
// scatter gives s/√2 = 20 Pa (JCGM 100:2008, 4.2.3). What a signal brings with each position, q mm, is the same in both and
// stays: 10 q √2 Pa. Together u² = 20² + 200 q².
func TestScatterBesideWhatSignalsBring(t *testing.T) {
	for _, q := range []float64{0, 0.1, 0.9, 0.9999, 1.5, 5} {
		a := averager(t, s, 0.8)
		var got convert.Result
		for i, mm := range [][2]float64{{10, 0}, {12, -2}} {
			r := low(uint64(i+1), time.Duration(i)*s, mm[0], 20).Reading
			r.High = convert.Some(quantity.Millimetres(mm[1]))
			r.LowExtra = convert.Extra{U: quantity.Millimetres(q)}
			r.HighExtra = r.LowExtra
			got = a.Take(tenPerMM(r))
		}
		if want := math.Sqrt(400 + 200*q*q); math.Abs(got.CombinedU-want) > 1e-6 {
			t.Errorf("a signal of %v mm: got u = %v Pa, want %v ± 1e-6 Pa (JCGM 100:2008, 4.2.3 and 5.1.2)", q, got.CombinedU, want)
		}
	}
}

func TestTooFewGood(t *testing.T) {
	for _, c := range []struct {
		name   string
		bad    int // of the first four; the fifth closes and is good
		least  float64
		status convert.Status
	}{
		{"all good", 0, 1, convert.Good}, {"one bad, at the edge", 1, 0.8, convert.Good},
		{"two bad", 2, 0.8, convert.Uncertain}, {"four bad", 4, 0.8, convert.Uncertain}, {"any share will do", 4, 0, convert.Good},
	} {
		a := averager(t, 4*s, c.least)
		var got convert.Result
		for i := range 5 {
			at := time.Duration(i) * s
			if i < c.bad {
				got = a.Take(refused(uint64(i+1), at, convert.LimbOffScale))
			} else {
				got = a.Take(low(uint64(i+1), at, 10, 20))
			}
		}
		few := slices.Contains(got.Causes, convert.AverageFewGood)
		if got.Status != c.status || few != (c.status == convert.Uncertain) || got.Average.Good != 5-c.bad || got.Average.Samples != 5 {
			t.Errorf("%s: got %v %v of %+v, want %v", c.name, got.Status, got.Causes, got.Average, c.status)
		}
		if p, ok := got.Pressure(); !ok || p != 100 {
			t.Errorf("%s: got %v Pa (%v), want 100 of the good ones", c.name, p, ok)
		}
		if c.status == convert.Uncertain && got.StatusCode != 0x40A40000 {
			t.Errorf("%s: got status code %#x, want 0x40A40000 (OPC UA UncertainDataSubNormal)", c.name, got.StatusCode)
		}
	}
}

func TestNoneGoodIsBad(t *testing.T) {
	a := averager(t, s, 0)
	a.Take(refused(1, 0, convert.FrameNumber))
	got := a.Take(refused(2, s, convert.LimbOffScale))
	if got.Sample || got.Status != convert.Bad || got.Refusal == nil || got.Refusal.Code != convert.LimbOffScale || got.Average == nil || got.Average.Good != 0 {
		t.Errorf("got %+v, want bad with the latest reason", got)
	}
}

// The reading that closes a window may be the refused one: the average is that of the others, under its name.
func TestRefusedReadingClosesTheWindow(t *testing.T) {
	a := averager(t, 2*s, 0.5)
	a.Take(low(1, 0, 10, 20))
	a.Take(low(2, s, 10, 20))
	got := a.Take(refused(3, 2*s, convert.FrameNumber))
	if p, ok := got.Pressure(); !ok || p != 100 || got.Seq != 3 || got.Refusal != nil || got.Status != convert.Good {
		t.Errorf("got %+v, want 100 Pa under seq 3", got)
	}
}

// Silence is told at once, and the window begins anew with the first reading after it.
func TestSilencePassesAndRestarts(t *testing.T) {
	for _, code := range []convert.Cause{convert.Silence, convert.PortGone} {
		a := averager(t, 3*s, 0.8)
		a.Take(low(1, 0, 90, 20))
		a.Take(low(2, s, 90, 20))
		if got := a.Take(refused(3, 2*s, code)); got.Sample || got.Average != nil || got.Refusal.Code != code {
			t.Fatalf("%s: got %+v, want it as it came", code, got)
		}
		for i := range 3 {
			if got := a.Take(low(uint64(4+i), time.Duration(10+i)*s, 10, 20)); !got.Sample {
				t.Fatalf("%s: got %+v, want a sample of a new window", code, got)
			}
		}
		got := a.Take(low(7, 13*s, 10, 20))
		if p, _ := got.Pressure(); p != 100 || got.Average.Samples != 4 || got.Average.Window != 3*s {
			t.Errorf("%s: got %v Pa of %+v, want 100 Pa of the 4 after it", code, p, got.Average)
		}
	}
}

// What came before a new zero is no part of an average after it. By hand: 90 mm before, 10 mm after are 900 and 100 Pa.
func TestRestart(t *testing.T) {
	a := averager(t, 2*s, 0.8)
	a.Take(low(1, 0, 90, 20))
	a.Restart()
	for i := range 2 {
		if got := a.Take(low(uint64(2+i), time.Duration(1+i)*s, 10, 20)); !got.Sample {
			t.Fatalf("got %+v, want a sample of a new window", got)
		}
	}
	got := a.Take(low(4, 3*s, 10, 20))
	if p, _ := got.Pressure(); p != 100 || got.Average == nil || got.Average.MaxPa != 100 || got.Average.Samples != 3 {
		t.Errorf("got %v Pa of %+v, want 100 Pa of the 3 after it", p, got.Average)
	}
}

// What lessens the trust in a reading lessens it in the average.
func TestCausesOfReadingsMarkTheAverage(t *testing.T) {
	a := averager(t, 2*s, 0.8)
	r := low(1, 0, 10, 20)
	r.Mark(&convert.Refusal{Code: convert.ChannelOld})
	a.Take(r)
	a.Take(low(2, s, 10, 20))
	got := a.Take(low(3, 2*s, 10, 20))
	if got.Status != convert.Uncertain || !slices.Equal(got.Causes, []convert.Cause{convert.ChannelOld}) {
		t.Errorf("got %v %v, want uncertain with channel-old", got.Status, got.Causes)
	}
	a.Take(low(4, 3*s, 10, 20))
	if got := a.Take(low(5, 5*s, 10, 20)); got.Status != convert.Good {
		t.Errorf("got %v %v in the next window, want good", got.Status, got.Causes)
	}
}

// Two menisci that one pressure moves apart are no independent inputs: the average has the uncertainty that the scatter
// of its pressures gives. By hand: (high, low) of (−1, 1), (1, −1), … mm around 0 are ±20 Pa, and 16 alternating values
// have u = s/√n = 20 √(16/15)/4 Pa (JCGM 100:2008, 4.2.3); taken for independent it would be that over √2, or many times
// that where the two move alike.
func TestTwoLimbsScatterTogether(t *testing.T) {
	for _, c := range []struct {
		name string
		high float64 // of the movement of the low limb
		want float64
	}{{"apart", -1, 20 * math.Sqrt(16.0/15) / 4}, {"alike, but for a tenth", 0.9, 1 * math.Sqrt(16.0/15) / 4}} {
		a := averager(t, 15*s, 0.8)
		var got convert.Result
		for i := range 16 {
			d := float64(1 - 2*(i%2))
			got = a.Take(tenPerMM(convert.Reading{SinceStart: time.Duration(i) * s,
				High: convert.Some(quantity.Millimetres(50 + c.high*d)), Low: convert.Some(quantity.Millimetres(50 + d))}))
		}
		if got.CombinedU < c.want*(1-1e-9) || got.CombinedU > 1.1*c.want {
			t.Errorf("%s: got u %v Pa, want %v to a tenth more", c.name, got.CombinedU, c.want)
		}
	}
}

// What a reading brought of its own is not lessened by averaging: a wrong calibration is wrong for all of them.
func TestExtraOfReadingsStays(t *testing.T) {
	a := averager(t, 3*s, 0.8)
	var got convert.Result
	for i := range 4 {
		r := low(uint64(i+1), time.Duration(i)*s, 10, 20)
		r.LowExtra = convert.Extra{U: quantity.Millimetres(0.3), DOF: 7}
		got = a.Take(r)
	}
	if math.Abs(float64(got.LowExtra.U)-0.3e-3) > 1e-12 || math.Abs(got.LowExtra.DOF-7) > 1e-9 {
		t.Errorf("got %+v, want 0.3 mm with 7 degrees of freedom", got.LowExtra)
	}
}

// Every reading becomes a sample, an average, or is passed on; numbers stay in order, none is lost or made; the counts of
// the averages add up; and the mean lies between the least and the greatest.
func TestAveragesAccountForEveryReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		window := time.Duration(rapid.Int64Range(1, 10).Draw(t, "window")) * s
		a, err := NewAverager(Options{Window: window, MinGood: 0.8, Convert: tenPerMM})
		if err != nil {
			t.Fatal(err)
		}
		at, waiting := time.Duration(0), 0
		for seq := uint64(1); seq <= uint64(rapid.IntRange(1, 60).Draw(t, "readings")); seq++ {
			at += time.Duration(rapid.Int64Range(0, 3000).Draw(t, "step")) * time.Millisecond
			var r convert.Result
			switch rapid.IntRange(0, 9).Draw(t, "kind") {
			case 0:
				r = refused(seq, at, convert.Silence)
			case 1, 2:
				r = refused(seq, at, convert.FrameNumber)
			default:
				r = low(seq, at, rapid.Float64Range(0, 300).Draw(t, "mm"), 20)
			}
			got := a.Take(r)
			if got.Seq != seq || got.SinceStart != at {
				t.Fatalf("got %v at %v, want seq %d at %v", got.Name, got.SinceStart, seq, at)
			}
			waiting++
			switch {
			case got.Sample:
				continue
			case got.Average != nil:
				if got.Average.Samples != waiting || got.Average.Window < window {
					t.Fatalf("got %+v of %d readings and a window of %v", got.Average, waiting, window)
				}
				if p, ok := got.Pressure(); ok && (p < got.Average.MinPa-1e-9 || p > got.Average.MaxPa+1e-9) {
					t.Fatalf("got %v Pa outside %+v", p, got.Average)
				}
			case got.Refusal == nil || got.Refusal.Code != convert.Silence:
				t.Fatalf("got %+v, want a sample, an average or silence", got)
			}
			waiting = 0
		}
	})
}

func TestNewAveragerRefuses(t *testing.T) {
	for _, o := range []Options{{}, {Window: s}, {Window: s, MinGood: 1.1, Convert: tenPerMM}, {Window: s, MinGood: math.NaN(), Convert: tenPerMM}, {MinGood: 0.5, Convert: tenPerMM}} {
		if _, err := NewAverager(o); err == nil {
			t.Errorf("%+v: got no error, want one", o)
		}
	}
}

// A step of the wall clock, either way, opens and closes no window.
func TestWindowsKeepToTheMonotonicClock(t *testing.T) {
	a, steps := averager(t, 3*s, 0.8), averager(t, 3*s, 0.8)
	for i := range 40 {
		r := low(uint64(i+1), time.Duration(i)*s, 10, 20)
		want := a.Take(r)
		r.ReceivedAt = r.ReceivedAt.Add(time.Duration(i%3-1) * 1000 * time.Hour)
		if got := steps.Take(r); got.Sample != want.Sample || got.Sample != (i%4 != 3) {
			t.Errorf("reading %d: got sample %v, want %v", i+1, got.Sample, i%4 != 3)
		}
	}
}

func BenchmarkTake(b *testing.B) {
	a := averager(b, time.Minute, 0.8)
	r := low(1, 0, 10, 20)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		r.SinceStart, r.Low.V = time.Duration(i)*100*time.Millisecond, quantity.Millimetres(10+float64(i%7))
		a.Take(r)
	}
}
