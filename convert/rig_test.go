package convert

import (
	"math"
	"testing"

	"manobridge/convert/fluid"
	"manobridge/convert/geometry"
	"manobridge/convert/gravity"
	"manobridge/convert/quantity"
)

// rig is an instrument for tests with every stated input in one place, so that a test can nudge any of them by name.
type rig struct {
	kind                  string
	slope, bore, resBore  float64 // rad, m
	highBore              float64
	zeroHigh, zeroLow     float64 // m
	tieHigh, tieLow       float64
	zeroT, tieT, ambientT float64 // °C
	g                     float64
	rho, beta             float64 // liquid
	overRho, overBeta     float64 // over-liquid of the limb pair's high limb
	pressure, humidity    float64
	alpha                 float64
	lowScaleZero, highTap float64
	charge                float64
}

func newRig(kind string) rig {
	return rig{
		kind: kind, slope: 0.2, bore: 0.004, resBore: 0.05, highBore: 0.007, zeroHigh: 0.1, zeroLow: 0.012,
		tieHigh: 0.21, tieLow: 0.3, zeroT: 20.4, tieT: 19.5, ambientT: 22, g: 9.807, rho: 830, beta: 8.5e-4,
		overRho: 700, overBeta: 1.2e-3, pressure: 96500, humidity: 0.4, alpha: 1.2e-5, lowScaleZero: 0.02, highTap: 0.64,
	}
}

func liquid(t testing.TB, name string, rho, beta float64) fluid.Fluid {
	t.Helper()
	l, err := fluid.NewLiquid(fluid.LiquidOptions{Name: name, Density: quantity.KilogramsPerCubicMetre(rho), DensityU: fluid.Stated(0.4),
		Reference: quantity.Celsius(20), Expansion: quantity.PerKelvin(beta), ExpansionU: fluid.Stated(3e-5)})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// options turns a rig into what New takes.
func (r rig) options(t testing.TB) Options {
	t.Helper()
	air, err := fluid.NewAir(fluid.AirOptions{Pressure: quantity.AbsolutePressure(r.pressure), PressureU: fluid.Stated(300),
		Humidity: quantity.Ratio(r.humidity), HumidityU: fluid.Stated(0.05), CO2U: fluid.Stated(0)})
	if err != nil {
		t.Fatal(err)
	}
	g, err := gravity.Measured(quantity.MetresPerSecondSquared(r.g), 2e-4)
	if err != nil {
		t.Fatal(err)
	}
	mm := func(u float64) Stated[quantity.Length] { return Stated[quantity.Length]{U: quantity.Millimetres(u)} }
	limb := LimbUncertainties{Position: mm(0.1), Zero: mm(0.15), Tie: mm(0.15)}
	kelvin := Stated[quantity.TemperatureDifference]{U: 0.3}
	o := Options{
		Instrument: "bench-1", Config: "test", Liquid: liquid(t, "oil", r.rho, r.beta), HighOver: Leg{Fluid: air}, LowOver: Leg{Fluid: air},
		Gravity: g, Ambient: Ambient{Temperature: quantity.Celsius(r.ambientT), TemperatureU: Stated[quantity.TemperatureDifference]{U: 1}},
		LowScale: Span{0, 0.6}, HighScale: Span{0, 0.6}, Temperature: TemperatureRule{Live: true},
		U:    Uncertainties{High: limb, Low: limb, Temperature: kelvin, ZeroTemperature: kelvin, TieTemperature: kelvin},
		Zero: &Zero{High: quantity.Metres(r.zeroHigh), Low: quantity.Metres(r.zeroLow), Temperature: quantity.Celsius(r.zeroT)},
	}
	tap := 0.7
	switch r.kind {
	case "inclined-reservoir":
		ratio := r.bore * r.bore / (r.resBore * r.resBore)
		o.Shape = geometry.Reservoir(r.slope, r.bore, ratio, tap, tap)
		o.Shape.Tie.Low, o.Shape.Tie.Temperature = r.zeroLow, float64(quantity.Celsius(r.zeroT))
		o.Shape.ChargeVolume, o.Shape.BodyExpansion = r.charge, 7e-5
	case "u-tube":
		o.Shape = geometry.UTube(r.highBore, r.bore, tap, tap, true, true)
	case "limb-pair":
		o.Shape = geometry.LimbPair(
			geometry.Limb{Slope: math.Pi / 2, BoreArea: geometry.BoreArea(r.highBore), Tap: r.highTap},
			geometry.Limb{Digitized: true, Slope: r.slope, BoreArea: geometry.BoreArea(r.bore), ScaleZero: r.lowScaleZero, Tap: 0.6},
			geometry.Tie{High: r.tieHigh, Low: r.tieLow, Temperature: float64(quantity.Celsius(r.tieT))})
		o.TieSeparate, o.Zero = true, nil
		o.HighOver = Leg{Fluid: liquid(t, "light oil", r.overRho, r.overBeta), At: LiquidTemperature}
	}
	o.Shape.ScaleExpansion, o.Shape.ScaleReference = r.alpha, 293.15
	in := func(name string, v geometry.Var, u, scale float64) {
		o.ShapeInputs = append(o.ShapeInputs, ShapeInput{Input: Input{Name: name, U: u}, Var: v, Scale: scale})
	}
	if r.kind != "u-tube" {
		in("slope", geometry.LowSlope, 3e-4, 1)
		wide := r.resBore
		if r.kind == "limb-pair" {
			wide = r.highBore
		}
		q := r.bore * r.bore / (wide * wide)
		in("bore", geometry.AreaRatio, 2e-5, 2*q/r.bore)
		in("other bore", geometry.AreaRatio, 5e-5, -2*q/wide)
	}
	if r.kind == "limb-pair" {
		in("low scale zero", geometry.LowScaleZero, 2e-4, 1)
		in("high tap", geometry.HighTap, 3e-4, 1)
	}
	in("scale expansion", geometry.ScaleExpansion, 5e-6, 1)
	return o
}

// reading is a reading at the given positions in mm and temperature in °C.
func reading(high, low, celsius float64) Reading {
	return Reading{Name: Name{Run: "r", Instrument: "bench-1", Seq: 1}, High: Some(quantity.Millimetres(high)),
		Low: Some(quantity.Millimetres(low)), Temperature: Some(quantity.Celsius(celsius))}
}

func converter(t testing.TB, o Options) *Converter {
	t.Helper()
	c, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
