package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// The instrument of these tests: a U-tube of two 5 mm limbs with 12 mL of an oil, both limbs read.
const (
	boreM, chargeM3, rhoOil, betaOil = 0.005, 12e-6, 860.0, 7.5e-4
	zeroMM                           = 150.0
)

func uTube(t testing.TB) *convert.Converter {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	oil, err := fluid.NewLiquid(fluid.LiquidOptions{Name: "bench oil", Density: quantity.KilogramsPerCubicMetre(rhoOil), DensityU: fluid.Stated(0.4),
		Reference: quantity.Celsius(20), Expansion: quantity.PerKelvin(betaOil), ExpansionU: fluid.Stated(1e-5)})
	must(err)
	air, err := fluid.NewAir(fluid.AirOptions{Pressure: 96000, PressureU: fluid.Stated(300), Humidity: 0.4, HumidityU: fluid.Stated(0.05), CO2U: fluid.Stated(0)})
	must(err)
	g, err := gravity.Measured(quantity.MetresPerSecondSquared(9.81), 0)
	must(err)
	mm := func(u float64) convert.Stated[quantity.Length] {
		return convert.Stated[quantity.Length]{U: quantity.Millimetres(u)}
	}
	limb := convert.LimbUncertainties{Position: mm(0.05), Zero: mm(0.05)}
	shape := geometry.UTube(boreM, boreM, 0.5, 0.5, true, true)
	shape.ChargeVolume = chargeM3
	c, err := convert.New(convert.Options{
		Instrument: "total", Config: "test", Liquid: oil, HighOver: convert.Leg{Fluid: air}, LowOver: convert.Leg{Fluid: air}, Gravity: g, Shape: shape,
		HighScale: convert.Span{Low: 0, High: 0.3}, LowScale: convert.Span{Low: 0, High: 0.3}, Ambient: convert.Ambient{Temperature: quantity.Celsius(21)},
		Temperature: convert.TemperatureRule{Live: true}, U: convert.Uncertainties{High: limb, Low: limb, Temperature: convert.Stated[quantity.TemperatureDifference]{U: 0.2}},
		Zero: &convert.Zero{High: quantity.Millimetres(zeroMM), Low: quantity.Millimetres(zeroMM), Temperature: quantity.Celsius(20)},
	})
	must(err)
	return c
}

// hall is a duct with a fan, doors and a day's temperature, written from hydrostatics and not from the program: a pressure
// moves the two menisci apart by p / ((ρ − ρ_air) g), the liquid's growth moves both up by V β Δt / 2A.
type hall struct {
	rnd             *rand.Rand
	pressure, drift float64 // Pa
	doorUntil       float64 // s
	bubbleMM        float64 // both limbs higher by that
	lostShare       float64 // of the liquid
	wander          float64 // K
	noNight         bool    // the fan is not turned down
	rumble          float64 // Pa
}

func newHall(seed uint64) *hall { return &hall{rnd: rand.New(rand.NewPCG(seed, 11)), rumble: 0.8} }

// at gives the positions and the temperature at a time in s. Steps of a second are expected.
func (h *hall) at(s float64) (high, low, celsius float64) {
	day := math.Mod(s, 86400)
	h.drift += -h.drift*0.02 + h.rumble*h.rnd.NormFloat64() // a fan's rumble: AR(1) over about 50 s, some 4 Pa
	target := 900 + h.drift                                 // filters and fan at work
	if day < 5*3600 && !h.noNight {
		target = 260 + 0.3*h.drift // at night
	}
	if h.rnd.Float64() < 1.0/1200 {
		h.doorUntil = s + 5 + 25*h.rnd.Float64()
	}
	if s < h.doorUntil {
		target -= 180
	}
	h.pressure += (target - h.pressure) * 0.4 // the column follows within seconds
	return h.positionsAt(s, h.pressure)
}

// positionsAt is the instrument at a pressure.
func (h *hall) positionsAt(s, pressure float64) (high, low, celsius float64) {
	day := math.Mod(s, 86400)
	h.wander += -h.wander/7200 + 0.004*h.rnd.NormFloat64()
	celsius = 21 + 2.5*math.Sin(2*math.Pi*(day/86400-0.4)) + h.wander
	head := pressure / ((rhoOil/(1+betaOil*(celsius-20)) - 1.13) * 9.81) * 1000
	area := math.Pi / 4 * boreM * boreM
	both := chargeM3*betaOil*(celsius-20)/(2*area)*1000 - h.lostShare*chargeM3/(2*area)*1000 + h.bubbleMM
	read := func(mm float64) float64 { return math.Round((mm+0.04*h.rnd.NormFloat64())*100) / 100 } // 0.04 mm of noise, 0.01 mm steps
	return read(zeroMM + both - head/2), read(zeroMM + both + head/2), math.Round((celsius+0.05*h.rnd.NormFloat64())*10) / 10
}

// bench reads the hall once a second and looks at what it reads.
type bench struct {
	t testing.TB
	c *convert.Converter
	h *hall
	w *Watch
	s int
}

func newBench(t testing.TB, seed uint64, o Options) *bench {
	t.Helper()
	b := &bench{t: t, c: uTube(t), h: newHall(seed)}
	o.Balance = b.c.Balance
	o.Range = convert.Some(convert.Span{Low: 0, High: 1500})
	o.PulsationPa, o.SoakKPerH = 150, 6
	var err error
	if b.w, err = New(o, Memory{}); err != nil {
		t.Fatal(err)
	}
	return b
}

var midnight = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// second lets one second pass.
func (b *bench) second() []Finding {
	b.s++
	high, low, celsius := b.h.at(float64(b.s))
	at := time.Duration(b.s) * time.Second
	r := b.c.Convert(convert.Reading{Name: convert.Name{Run: "r", Instrument: "total", Seq: uint64(b.s)}, ReceivedAt: midnight.Add(at), SinceStart: at,
		High: convert.Some(quantity.Millimetres(high)), Low: convert.Some(quantity.Millimetres(low)), Temperature: convert.Some(quantity.Celsius(celsius))})
	if r.Refusal != nil {
		b.t.Fatalf("at %d s: %v", b.s, r.Refusal)
	}
	return b.w.See(&r)
}

// until lets time pass until there is a finding of that code, and gives how long it took; false after most.
func (b *bench) until(code convert.Cause, most time.Duration) (time.Duration, bool) {
	from := b.s
	for b.s-from < int(most/time.Second) {
		for _, f := range b.second() {
			if f.Code == code {
				return time.Duration(b.s-from) * time.Second, true
			}
		}
	}
	return 0, false
}
