package simulate

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func build(t testing.TB, d Declared, seed uint64) *Hall {
	t.Helper()
	h, err := Build(d, seed)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestSeedFixesEverything(t *testing.T) {
	a, b, c := build(t, TestHall(), 11), build(t, TestHall(), 11), build(t, TestHall(), 12)
	if !slices.Equal(a.Draws(), b.Draws()) {
		t.Error("two halls of one seed differ in their draws")
	}
	if a.Config(Places{}) != b.Config(Places{}) {
		t.Error("two halls of one seed differ in their configuration")
	}
	if slices.Equal(a.Draws(), c.Draws()) {
		t.Error("two seeds give the same draws")
	}
	for _, port := range a.Declared.Ports {
		la, lb, lc := a.Line(port.Name, 0.1), b.Line(port.Name, 0.1), c.Line(port.Name, 0.1)
		same := true
		for range 500 {
			fa, fb, fc := la.Next(), lb.Next(), lc.Next()
			if string(fa.Bytes) != string(fb.Bytes) || fa.PressurePa != fb.PressurePa {
				t.Fatalf("%s: one seed gave %q and %q", port.Name, fa.Bytes, fb.Bytes)
			}
			same = same && string(fa.Bytes) == string(fc.Bytes)
		}
		if same {
			t.Errorf("%s: two seeds give the same frames", port.Name)
		}
	}
}

func TestAnInstrumentMoreLeavesTheOthersAlone(t *testing.T) {
	d := TestHall()
	full := build(t, d, 3)
	d.Instruments = d.Instruments[1:]
	fewer := build(t, d, 3)
	var want []Draw
	for _, dr := range full.Draws() {
		if dr.Of != "bank-a" {
			want = append(want, dr)
		}
	}
	if !slices.Equal(fewer.Draws(), want) {
		t.Error("leaving one instrument out changed the draws of others")
	}
}

// TestDrawsFollowWhatIsDeclared takes every input of every instrument over many seeds, in units of its declared
// standard uncertainty, and holds mean, spread and shape against the standard normal distribution. The seeds are fixed,
// so the verdict is.
func TestDrawsFollowWhatIsDeclared(t *testing.T) {
	const halls = 800
	byKey := map[string][]float64{}
	for seed := range uint64(halls) {
		for _, d := range build(t, TestHall(), seed).Draws() {
			byKey[d.Of+" "+d.Key] = append(byKey[d.Of+" "+d.Key], (d.True-d.Declared.Value)/d.Declared.U)
		}
	}
	if len(byKey) < 80 {
		t.Fatalf("got %d inputs drawn, want at least 80: nine instruments with eight inputs and more each", len(byKey))
	}
	normal := distuv.UnitNormal
	for key, z := range byKey {
		if len(z) != halls {
			t.Errorf("%s: drawn %d times, want %d", key, len(z), halls)
			continue
		}
		// About a hundred inputs: bounds that one fair input in 10 000 would cross (3.9 and 1.95 + margin).
		mean, sd := stat.MeanStdDev(z, nil)
		if tol := 4 / math.Sqrt(halls); math.Abs(mean) > tol {
			t.Errorf("%s: mean %.3f u, want 0 ± %.3f", key, mean, tol)
		}
		if tol := 4 / math.Sqrt(2*halls); math.Abs(sd-1) > tol {
			t.Errorf("%s: standard deviation %.3f u, want 1 ± %.3f", key, sd, tol)
		}
		slices.Sort(z)
		worst := 0.0
		for i, v := range z {
			f := normal.CDF(v)
			worst = max(worst, f-float64(i)/halls, float64(i+1)/halls-f)
		}
		if tol := 2.2 / math.Sqrt(halls); worst > tol { // Kolmogorov, asymptotic: P = 2 exp(−2·2.2²) = 1.2e-4
			t.Errorf("%s: distance to the normal distribution %.3f, want below %.3f", key, worst, tol)
		}
	}
}

func TestReadingErrors(t *testing.T) {
	const readings = 20000
	h := build(t, TestHall(), 5)
	for _, in := range h.Declared.Instruments {
		r := stream(1, in.Name)
		trueHigh, trueLow, _ := h.Settled(in.Name, 30, 21)
		c := h.columns[in.Name]
		wantLow, wantHigh := c.scaleReading(trueLow, 21), c.scaleReading(trueHigh, 21)
		var low, high, temp []float64
		for range readings {
			o, ok := h.Observe(r, in.Name, 30, 21)
			if !ok {
				t.Fatalf("%s: no such instrument", in.Name)
			}
			if off := math.Abs(math.Remainder(o.LowMm, in.ResolutionMm)); off > 1e-9 {
				t.Fatalf("%s: position %g mm is not on the step of %g mm", in.Name, o.LowMm, in.ResolutionMm)
			}
			low, high, temp = append(low, o.LowMm), append(high, o.HighMm), append(temp, o.TemperatureC)
		}
		// Rounding to steps q adds q²/12 to the variance; source: JCGM 100:2008, F.2.2.1. The steps here are at most 0.63
		// of a standard deviation, where that is exact to 1e-3.
		sd := math.Hypot(in.PositionU, in.ResolutionMm/math.Sqrt(12))
		for _, check := range []struct {
			what    string
			got     []float64
			mean, s float64
		}{
			{"low position (mm)", low, wantLow, sd}, {"high position (mm)", high, wantHigh, sd}, {"temperature (°C)", temp, 21, in.TemperatureU},
		} {
			mean, s := stat.MeanStdDev(check.got, nil)
			if tol := 4 * check.s / math.Sqrt(readings); math.Abs(mean-check.mean) > tol {
				t.Errorf("%s %s: mean %.5f, want %.5f ± %.5f", in.Name, check.what, mean, check.mean, tol)
			}
			if tol := 4/math.Sqrt(2*readings) + 1e-3; math.Abs(s/check.s-1) > tol {
				t.Errorf("%s %s: standard deviation %.5f, want %.5f ± %.5f", in.Name, check.what, s, check.s, tol*check.s)
			}
		}
	}
}

func TestBuildRefuses(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(*Declared)
		want  string
	}{
		{"unknown liquid", func(d *Declared) { d.Instruments[0].Liquid = "mead" }, `no liquid "mead"`},
		{"unknown over-liquid", func(d *Declared) { d.Instruments[8].High.Over = "mead" }, `no liquid "mead"`},
		{"over-liquid heavier than the column", func(d *Declared) { d.Instruments[0].Low.Over = Water }, "water would sink through pale-oil"},
		{"level limb", func(d *Declared) { d.Instruments[0].Low.SlopeDeg = Input{} }, "slope 0 deg"},
	}
	for _, tt := range tests {
		d := TestHall()
		tt.spoil(&d)
		if _, err := Build(d, 1); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want an error with %q", tt.name, err, tt.want)
		}
	}
}
