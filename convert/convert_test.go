package convert

import (
	"math"
	"slices"
	"strings"
	"testing"

	"manobridge/convert/quantity"
)

// What cannot be believed has no pressure, names its cause, and says what was seen and what is allowed.
func TestConvertRefuses(t *testing.T) {
	inf := math.Inf(1)
	for _, tt := range []struct {
		name  string
		spoil func(*Reading)
		cause Cause
		says  string
	}{
		{"refused frame", func(r *Reading) { r.Refusal = &Refusal{Code: FrameNUL, Field: "frame", Seen: "a NUL byte"} }, FrameNUL, "NUL"},
		{"no position", func(r *Reading) { r.Low.Set = false }, PositionMissing, "low-limb position"},
		{"position NaN", func(r *Reading) { r.Low.V = quantity.Length(math.NaN()) }, NotFinite, "NaN"},
		{"position infinite", func(r *Reading) { r.Low.V = quantity.Length(inf) }, NotFinite, "Inf"},
		{"above the scale", func(r *Reading) { r.Low = Some(quantity.Millimetres(600.5)) }, LimbOffScale, "600.5 mm; allowed: 0 to 600 mm"},
		{"below the scale", func(r *Reading) { r.Low = Some(quantity.Millimetres(-3)) }, LimbOffScale, "-3 mm"},
		{"no temperature", func(r *Reading) { r.Temperature.Set = false }, TemperatureMissing, "liquid temperature"},
		{"temperature NaN", func(r *Reading) { r.Temperature.V = quantity.Temperature(math.NaN()) }, NotFinite, "liquid temperature"},
		{"temperature outside the liquid's range", func(r *Reading) { r.Temperature = Some(quantity.Celsius(85)) }, TemperatureRange, "85 °C; allowed: -20 to 60 °C"},
		{"ambient outside the air's range", func(r *Reading) { r.AmbientTemperature = Some(quantity.Celsius(70)) }, AmbientRange, "70 °C"},
		{"tilt in another unit", func(r *Reading) { r.Tilt = Some(quantity.Degrees(-90)) }, TiltRange, "-90 °; allowed: -10 to 10 °"},
		{"tilt NaN", func(r *Reading) { r.Tilt = Some(quantity.Angle(math.NaN())) }, NotFinite, "tilt"},
	} {
		for _, kind := range []string{"u-tube", "inclined-reservoir"} {
			t.Run(kind+"/"+tt.name, func(t *testing.T) {
				rd := reading(100, 200, 21)
				tt.spoil(&rd)
				res := converter(t, newRig(kind).options(t)).Convert(rd)
				if _, ok := res.Pressure(); ok || res.Status != Bad || res.StatusCode>>30 != 2 {
					t.Fatalf("got a value, status %v, code %#x; want none, bad", res.Status, res.StatusCode)
				}
				if !slices.Equal(res.Causes, []Cause{tt.cause}) {
					t.Errorf("got causes %v, want %v", res.Causes, tt.cause)
				}
				if !strings.Contains(res.Refusal.Error(), tt.says) {
					t.Errorf("got %q, want it to say %q", res.Refusal, tt.says)
				}
			})
		}
	}
}

// A value that is there but to be trusted less.
func TestConvertDoubts(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	o.Range = &Span{-50, 400}
	o.Temperature.Fixed = Some(quantity.Celsius(21))
	c := converter(t, o)
	for _, tt := range []struct {
		name  string
		spoil func(*Reading)
		cause Cause
	}{
		{"nothing wrong", func(*Reading) {}, ""},
		{"within twice u of the scale's end", func(r *Reading) { r.Low = Some(quantity.Millimetres(0.15)) }, LimbAtScaleEnd},
		{"beyond the stated range", func(r *Reading) { r.Low = Some(quantity.Millimetres(400)) }, PressureRange},
		{"a configured temperature stands in", func(r *Reading) { r.Temperature.Set = false }, TemperatureFixed},
		{"ambient beyond the equation's range", func(r *Reading) { r.AmbientTemperature = Some(quantity.Celsius(31)) }, AmbientRange},
	} {
		t.Run(tt.name, func(t *testing.T) {
			rd := reading(0, 150, 21)
			tt.spoil(&rd)
			res := c.Convert(rd)
			if _, ok := res.Pressure(); !ok {
				t.Fatalf("got no value: %v", res.Refusal)
			}
			want, causes := Uncertain, []Cause{tt.cause}
			if tt.cause == "" {
				want, causes = Good, nil
			}
			if res.Status != want || !slices.Equal(res.Causes, causes) || (want == Uncertain) != (res.StatusCode>>30 == 1) {
				t.Errorf("got %v, code %#x, causes %v; want %v, %v", res.Status, res.StatusCode, res.Causes, want, causes)
			}
		})
	}
}

// The zero reading itself gives zero pressure and zero head, at any zero temperature, for every kind that has one.
func TestZeroReadsZero(t *testing.T) {
	for _, kind := range []string{"u-tube", "inclined-reservoir"} {
		r := newRig(kind)
		res := converter(t, r.options(t)).Convert(reading(r.zeroHigh*1000, r.zeroLow*1000, r.zeroT))
		if p := float64(res.Differential); math.Abs(p) > 1e-9 {
			t.Errorf("%s: got %v Pa, want 0", kind, p)
		}
		if h := float64(res.Head.V); math.Abs(h) > 1e-15 {
			t.Errorf("%s: got a head of %v m, want 0", kind, h)
		}
	}
}

// More uncertainty in, never less out.
func TestUncertaintyIsMonotone(t *testing.T) {
	base := newRig("inclined-reservoir").options(t)
	u := func(o Options) float64 { return converter(t, o).Convert(reading(0, 300, 30)).CombinedU }
	at := u(base)
	for i := range base.ShapeInputs {
		o := newRig("inclined-reservoir").options(t)
		o.ShapeInputs[i].U *= 3
		if got := u(o); got < at {
			t.Errorf("%s tripled: got u_c %v Pa, below %v Pa", o.ShapeInputs[i].Name, got, at)
		}
	}
}

// Few degrees of freedom widen the coverage factor as Student's distribution does. k = 2.87 at ν = 4, p = 95.45 %.
// Source: JCGM 100:2008, table G.2.
func TestCoverageFollowsDOF(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	o.U.Low.Position = Stated[quantity.Length]{U: 5e-3, DOF: 4} // dominates
	res := converter(t, o).Convert(reading(0, 100, 20))
	if math.Abs(res.CoverageFactor-2.87) > 0.005 || math.Abs(res.ExpandedU-res.CoverageFactor*res.CombinedU) > 1e-12 {
		t.Errorf("got k = %v at %v degrees of freedom, want 2.87 ± 0.005 (JCGM 100:2008, table G.2)", res.CoverageFactor, res.EffectiveDOF)
	}
}

func TestConvertAllocatesNothing(t *testing.T) {
	c := converter(t, newRig("inclined-reservoir").options(t))
	rd := reading(0, 300, 27)
	if n := testing.AllocsPerRun(100, func() { c.Convert(rd) }); n != 0 {
		t.Errorf("got %v allocations a reading, want 0", n)
	}
}

func BenchmarkConvert(b *testing.B) {
	for _, kind := range []string{"u-tube", "inclined-reservoir", "limb-pair"} {
		b.Run(kind, func(b *testing.B) {
			c := converter(b, newRig(kind).options(b))
			rd := reading(300, 380, 27)
			b.ReportAllocs()
			for b.Loop() {
				c.Convert(rd)
			}
		})
	}
}

// Where the user writes that the liquid has the temperature of the room, it follows the room, live where that is.
func TestLiquidAtAmbient(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	o.Temperature = TemperatureRule{Ambient: true}
	c := converter(t, o)
	rd := reading(0, 300, 35) // its own temperature is not asked for
	if got := c.Convert(rd).Temperature.V.Celsius(); math.Abs(got-22) > 1e-9 {
		t.Errorf("got %v °C, want the configured ambient of 22 °C", got)
	}
	rd.AmbientTemperature = Some(quantity.Celsius(25))
	if got := c.Convert(rd).Temperature.V.Celsius(); math.Abs(got-25) > 1e-9 {
		t.Errorf("got %v °C, want the live ambient of 25 °C", got)
	}
}
