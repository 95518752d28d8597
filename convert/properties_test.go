package convert

import (
	"math"
	"testing"

	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/quantity"

	"pgregory.net/rapid"
)

// What must hold whatever the numbers are. The properties follow from hydrostatics and from JCGM 100:2008, 5.1.2; no
// expected value is taken from this program.

// tiny is what rounding may leave of a pressure: 1e-11 of the largest column of the rig, 5 m of 1200 kg/m³.
const tiny = 1e-11 * 5 * 1200 * 9.81

// anyRig draws a two-limb instrument of a kind with wide scales and high level taps.
func anyRig(t *rapid.T, tb testing.TB, kind string) (rig, Options) {
	draw := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	r := newRig(kind)
	r.slope = draw("slope", 0.1, math.Pi/2)
	r.bore, r.resBore, r.highBore = draw("bore", 0.002, 0.008), draw("reservoir bore", 0.02, 0.1), draw("high bore", 0.006, 0.02)
	r.zeroHigh, r.zeroLow, r.zeroT = draw("zero high", 0.1, 0.3), draw("zero low", 0.1, 0.3), draw("zero °C", 10, 30)
	r.tieHigh, r.tieLow, r.tieT = draw("tie high", 0.1, 0.3), draw("tie low", 0.1, 0.3), draw("tie °C", 10, 30)
	r.rho, r.beta, r.alpha = draw("density", 750, 1200), draw("expansion", 2e-4, 1.1e-3), draw("scale expansion", 0, 1e-4)
	if kind == "inclined-reservoir" {
		r.charge = draw("charge", 2e-5, 2e-4)
	}
	o := r.options(tb)
	o.HighScale, o.LowScale = Span{-2, 2}, Span{-2, 2}
	o.Shape.High.Tap, o.Shape.Low.Tap = 5, 5
	return r, o
}

// twoLiquids is a two-liquid or an inverted instrument made of a rig.
func twoLiquids(t *rapid.T, tb testing.TB, kind string) Options {
	_, o := anyRig(t, tb, "u-tube")
	oil := liquid(tb, "line liquid", rapid.Float64Range(1250, 1400).Draw(t, "line density"), 4e-4)
	switch kind {
	case "inverted-u-tube":
		o.Shape = geometry.InvertedUTube(0.006, 0.006, -5, -5)
		o.HighOver = Leg{Fluid: oil, At: LiquidTemperature}
		o.LowOver = o.HighOver
	case "two-liquid":
		o.Line = o.HighOver
		o.HighOver = Leg{Fluid: liquid(tb, "chamber liquid", rapid.Float64Range(650, 740).Draw(t, "chamber density"), 9e-4), At: LiquidTemperature}
		o.LowOver = o.HighOver
		o.Shape = geometry.TwoLiquid(0.005, rapid.Float64Range(0.02, 0.1).Draw(t, "chamber"), 5)
		o.Shape.Tie = geometry.Tie{High: float64(o.Zero.High), Low: float64(o.Zero.Low), Temperature: float64(o.Zero.Temperature)}
	}
	o.ShapeInputs = nil
	return o
}

// anyOptions draws an instrument of any kind.
func anyOptions(t *rapid.T, tb testing.TB, kind string) Options {
	switch kind {
	case "inverted-u-tube", "two-liquid":
		return twoLiquids(t, tb, kind)
	case "profile":
		r, o := anyRig(t, tb, "inclined-reservoir")
		bend := rapid.Float64Range(0.05, 0.9).Draw(t, "sine after the bend")
		p, err := geometry.NewProfile([]float64{-2, 0.2, 2}, []float64{-0.2, 0.02, 0.02 + 1.8*bend})
		if err != nil {
			tb.Fatal(err)
		}
		o.Shape = geometry.BentReservoir(p, r.bore, r.bore*r.bore/(r.resBore*r.resBore), 5, 5)
		o.Shape.Tie.Low, o.Shape.Tie.Temperature = r.zeroLow, float64(quantity.Celsius(r.zeroT))
		o.LowScale = Span{-0.5, 1.5}
		o.ShapeInputs = nil
		return o
	case "sealed":
		_, o := anyRig(t, tb, "u-tube")
		o.Zero, o.ShapeInputs = nil, nil
		o.Shape = geometry.Sealed(0.06, 0.008, 0.02, 0.3, 5, geometry.FixedCistern)
		o.LowOver = Leg{Fluid: fluid.Vapour("mercury"), At: LiquidTemperature}
		o.HighOver = o.LowOver
		o.TieSeparate = true
		o.Sealed = &Sealed{Vapour: func(quantity.Temperature) (float64, float64) { return 0.2, 0.01 }, VapourU: Stated[float64]{U: 5}}
		return o
	case "graduated":
		_, o := anyRig(t, tb, "u-tube")
		o.ShapeInputs = nil
		o.Shape = geometry.Graduated(5)
		o.Shape.Tie.Low, o.Shape.Tie.Temperature = float64(o.Zero.Low), float64(o.Zero.Temperature)
		o.Engraved = &Engraved{Unit: "Pa", PerUnit: 1e-4}
		return o
	}
	_, o := anyRig(t, tb, kind)
	return o
}

var everyKind = []string{"u-tube", "inclined-reservoir", "limb-pair", "inverted-u-tube", "two-liquid", "profile", "sealed", "graduated"}

// read is a reading of all that an instrument may read, with the low limb at a position in m.
func readAt(c *Converter, high, low, celsius float64) Reading {
	r := Reading{High: Some(quantity.Metres(high)), Low: Some(quantity.Metres(low)), Temperature: Some(quantity.Celsius(celsius))}
	if e := c.o.Engraved; e != nil {
		r.Indicated = Some(low / e.PerUnit)
	}
	return r
}

func pressureOf(t *rapid.T, c *Converter, r Reading) float64 {
	res := c.Convert(r)
	p, ok := res.Pressure()
	if !ok {
		t.Fatalf("got a refusal: %v", res.Refusal)
	}
	return p
}

// Equal limbs under level taps: swapping the positions flips the sign, equal ones give nothing, twice the head is twice the
// pressure. The zero pair must be equal too.
func TestSymmetricLimbs(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		_, o := anyRig(rt, t, "u-tube")
		o.Zero.Low = o.Zero.High
		c := converter(t, o)
		a, b := rapid.Float64Range(0, 0.5).Draw(rt, "a"), rapid.Float64Range(0, 0.5).Draw(rt, "b")
		celsius := rapid.Float64Range(0, 30).Draw(rt, "°C")
		p := func(high, low float64) float64 { return pressureOf(rt, c, readAt(c, high, low, celsius)) }
		if got, want := p(a, b), -p(b, a); math.Abs(got-want) > tiny {
			rt.Fatalf("swapped: got %v Pa, want %v ± %v Pa", got, want, tiny)
		}
		if got := p(a, a); math.Abs(got) > tiny {
			rt.Fatalf("equal positions: got %v Pa, want 0 ± %v Pa", got, tiny)
		}
		middle, half := (a+b)/2, (b-a)/2
		if got, want := p(middle-2*half, middle+2*half), 2*p(middle-half, middle+half); math.Abs(got-want) > tiny {
			rt.Fatalf("doubled head: got %v Pa, want %v ± %v Pa", got, want, tiny)
		}
	})
}

// In every kind the pressure follows the position one way: up with the low limb, down in an inverted U-tube.
func TestPressureIsMonotoneInPosition(t *testing.T) {
	for _, kind := range everyKind {
		t.Run(kind, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				c := converter(t, anyOptions(rt, t, kind))
				x, celsius := rapid.Float64Range(0, 0.5).Draw(rt, "x"), rapid.Float64Range(0, 30).Draw(rt, "°C")
				by := rapid.Float64Range(1e-5, 0.3).Draw(rt, "by")
				before, after := pressureOf(rt, c, readAt(c, 0.25, x, celsius)), pressureOf(rt, c, readAt(c, 0.25, x+by, celsius))
				if rises := after > before; rises != (kind != "inverted-u-tube") {
					rt.Fatalf("got %v Pa at %v m and %v Pa %v m further", before, x, after, by)
				}
			})
		})
	}
}

// More uncertainty of any input never lowers the combined uncertainty (JCGM 100:2008, 5.1.2: a sum of squares).
func TestMoreInputUncertaintyNeverLowersTheCombined(t *testing.T) {
	for _, kind := range everyKind {
		t.Run(kind, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				o := anyOptions(rt, t, kind)
				more := rapid.Float64Range(1, 20).Draw(rt, "more")
				x, celsius := rapid.Float64Range(0, 0.5).Draw(rt, "x"), rapid.Float64Range(0, 30).Draw(rt, "°C")
				u := func(o Options) float64 {
					c := converter(t, o)
					return c.Convert(readAt(c, 0.25, x, celsius)).CombinedU
				}
				before := u(o)
				for name, raise := range raises(&o, more) {
					had := o
					had.ShapeInputs = append([]ShapeInput(nil), o.ShapeInputs...)
					raise(&had)
					if after := u(had); !(after >= before*(1-1e-12)) {
						rt.Fatalf("%s times %v: got u = %v Pa, want at least %v Pa", name, more, after, before)
					}
				}
			})
		})
	}
}

// raises multiplies each stated uncertainty of an instrument by itself.
func raises(o *Options, by float64) map[string]func(*Options) {
	all := map[string]func(*Options){
		"high position":       func(o *Options) { o.U.High.Position.U *= quantity.Length(by) },
		"low position":        func(o *Options) { o.U.Low.Position.U *= quantity.Length(by) },
		"high zero":           func(o *Options) { o.U.High.Zero.U *= quantity.Length(by) },
		"low zero":            func(o *Options) { o.U.Low.Zero.U *= quantity.Length(by) },
		"high tie":            func(o *Options) { o.U.High.Tie.U *= quantity.Length(by) },
		"low tie":             func(o *Options) { o.U.Low.Tie.U *= quantity.Length(by) },
		"resolution":          func(o *Options) { o.U.Resolution += quantity.Metres(1e-4 * by) },
		"meniscus":            func(o *Options) { o.U.Meniscus.U += quantity.Metres(1e-4 * by) },
		"temperature":         func(o *Options) { o.U.Temperature.U *= quantity.TemperatureDifference(by) },
		"zero temperature":    func(o *Options) { o.U.ZeroTemperature.U *= quantity.TemperatureDifference(by) },
		"tie temperature":     func(o *Options) { o.U.TieTemperature.U *= quantity.TemperatureDifference(by) },
		"ambient temperature": func(o *Options) { o.Ambient.TemperatureU.U *= quantity.TemperatureDifference(by) },
		"gravity":             func(o *Options) { o.Gravity.U *= by },
	}
	for i := range o.ShapeInputs {
		all[o.ShapeInputs[i].Name] = func(o *Options) { o.ShapeInputs[i].U *= by }
	}
	if o.Sealed != nil {
		all["vapour"] = func(o *Options) { s := *o.Sealed; s.VapourU.U *= by; o.Sealed = &s }
	}
	return all
}

// Positions foretold for a pressure convert to that pressure.
func TestForetoldPositionsConvertBack(t *testing.T) {
	for _, kind := range everyKind {
		t.Run(kind, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				c := converter(t, anyOptions(rt, t, kind))
				celsius := rapid.Float64Range(0, 30).Draw(rt, "°C")
				span := 300.0
				if kind == "two-liquid" {
					span = 60 // a small difference of density is a long movement
				}
				// Around what the low limb at 0.3 m says, as a limb pair and a barometer have an offset.
				want := rapid.Float64Range(-span, span).Draw(rt, "Pa")
				if kind == "limb-pair" || kind == "sealed" {
					want += pressureOf(rt, c, readAt(c, 0.25, 0.3, celsius))
				}
				p, err := c.Predict(want, quantity.Celsius(celsius))
				if err != nil {
					rt.Fatal(err)
				}
				r := Reading{High: p.High, Low: p.Low, Temperature: Some(quantity.Celsius(celsius))}
				if e := c.o.Engraved; e != nil {
					r.Indicated = Some(float64(p.Low.V) / e.PerUnit)
				}
				if got := pressureOf(rt, c, r); math.Abs(got-want) > 100*tiny {
					rt.Fatalf("got %v Pa, want %v ± %v Pa", got, want, 100*tiny)
				}
			})
		})
	}
}
