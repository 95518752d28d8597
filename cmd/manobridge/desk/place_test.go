package desk

import (
	"errors"
	"strings"
	"testing"

	"manobridge/convert"
)

func TestFluidAgainstTables(t *testing.T) {
	for _, c := range []struct {
		ask          FluidAt
		density, tol float64
		source       string
	}{
		{FluidAt{Name: "water", TemperatureC: 20}, 998.2067, 1e-4, "Tanaka et al., Metrologia 38 (2001) 301"},
		{FluidAt{Name: "water", TemperatureC: 30}, 995.6488, 1e-4, "Tanaka et al., Metrologia 38 (2001) 301"},
		{FluidAt{Name: "mercury", TemperatureC: 20}, 13545.859, 0.001, "Bettin and Fehlauer, Metrologia 41 (2004) S16, second-hand"},
		{FluidAt{Name: "ethanol-water:0.40", TemperatureC: 20}, 935.15, 0.005, "OIML R 22 (1975), table I"},
		{FluidAt{Name: "air", TemperatureC: 20, PressureHPa: ptr(1013.25), HumidityPct: ptr(50)}, 1.1993139, 2e-6, "CIPM-2007, evaluated by the Measurement Standards Laboratory of New Zealand"},
		{FluidAt{Name: "air", TemperatureC: 23.4, PressureHPa: ptr(816.333), HumidityPct: ptr(23)}, 0.9563046, 2e-6, "CIPM-2007, evaluated by the Measurement Standards Laboratory of New Zealand"},
		// By hand: 830 / (1 + 0.00085 × 10).
		{FluidAt{Name: "pale-oil", TemperatureC: 30, Config: hall(t)}, 823.004462, 1e-6, "by hand"},
	} {
		s, err := Fluid(c.ask)
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.ask.Name, s.DensityKgM3, c.density, c.tol, c.source)
	}
}

// 998.2067 × 9.80665 = 9789.064 and × 9.80715 = 9789.563 N/m³; handbooks give 2.07e-4 1/K for water at 20 °C.
func TestFluidWeightAndExpansion(t *testing.T) {
	s, err := Fluid(FluidAt{Name: "water", TemperatureC: 20, Config: hall(t)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "specific weight at standard gravity", s.StandardWeight, 9789.0637, 1e-3, "by hand")
	near(t, "specific weight here", *s.LocalWeight, 9789.5628, 1e-3, "by hand")
	near(t, "expansion", s.ExpansionPer, 2.07e-4, 0.005e-4, "handbook value for water at 20 °C, three digits")
	near(t, "change per kelvin", s.PerKelvin, -998.2067*2.07e-4, 998*0.005e-4, "density times expansion")
	alone, err := Fluid(FluidAt{Name: "water", TemperatureC: 20})
	if err != nil {
		t.Fatal(err)
	}
	if alone.LocalWeight != nil {
		t.Errorf("got a local weight of %v, want none without a place", *alone.LocalWeight)
	}
}

func TestFluidRefuses(t *testing.T) {
	for _, c := range []struct {
		name       string
		ask        FluidAt
		outOfRange bool
		want       string
	}{
		{"too hot for its source", FluidAt{Name: "ethanol-water:0.40", TemperatureC: 60}, true, "40"},
		{"air beyond the equation", FluidAt{Name: "air", TemperatureC: 20, PressureHPa: ptr(20)}, true, "hPa"},
		{"an unknown name", FluidAt{Name: "watre", TemperatureC: 20}, false, "water"},
		{"a humidity of water", FluidAt{Name: "water", TemperatureC: 20, HumidityPct: ptr(40)}, false, "air alone"},
		{"a liquid of another file", FluidAt{Name: "pale-oil", TemperatureC: 20}, false, "not known"},
	} {
		s, err := Fluid(c.ask)
		var out *OutOfRange
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.As(err, &out) != c.outOfRange {
			t.Errorf("%s: got %+v, %v; want a refusal that says %q", c.name, s, err, c.want)
		}
	}
}

// Air nobody measured says so, and is known within 3 %; air of a stated pressure and humidity is known much better.
func TestFluidAirSaysWhatWasAssumed(t *testing.T) {
	unknown, err := Fluid(FluidAt{Name: "air", TemperatureC: 20})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(unknown.Assumptions, " "), "No pressure given") {
		t.Errorf("got %q, want the assumed pressure named", unknown.Assumptions)
	}
	near(t, "u of unmeasured air", unknown.DensityUKgM3, 1.2*3000/101325, 0.004, "30 hPa of 1013.25, and the humidity")
	known, err := Fluid(FluidAt{Name: "air", TemperatureC: 20, PressureHPa: ptr(1013.25), HumidityPct: ptr(50)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "u of measured air", known.DensityUKgM3, 1.2*100/101325, 0.0003, "1 hPa of 1013.25, and 5 % of humidity")
	hall, err := Fluid(FluidAt{Name: "air", TemperatureC: 20, Config: hall(t)})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "air of a configuration", hall.DensityKgM3, 1.1993139, 2e-6, "CIPM-2007")
}

func TestGravityAgainstGeographicLib(t *testing.T) {
	for _, c := range []struct{ latitude, height, want float64 }{
		{0, 0, 9.78032534}, {45, 1000, 9.80311290}, {51.4778, 46, 9.81187206}, {90, 0, 9.83218494}, {60, 500, 9.81763489},
	} {
		p, err := Gravity(c.latitude, c.height)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "gravity", p.GravityMS2, c.want, 2e-7, "GeographicLib 2.1.2, class NormalGravity, WGS 84; the formula is good to 1e-7 up to 1 km")
		near(t, "from standard", p.DifferencePPM, (c.want/9.80665-1)*1e6, 0.03, "by hand")
	}
	// The formula of WMO-No. 8 at 45°, where cos 2φ = 0, is 9.80620 by its own first constant.
	p, err := Gravity(45, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "WMO", p.WMOMS2, 9.80620, 1e-9, "WMO-No. 8, annex 3.A")
	for _, bad := range [][2]float64{{91, 0}, {45, 9000}} {
		if p, err := Gravity(bad[0], bad[1]); err == nil {
			t.Errorf("got %+v, want a refusal of latitude %g°, height %g m", p, bad[0], bad[1])
		}
	}
}

func TestPlaceText(t *testing.T) {
	for name, ask := range map[string]FluidAt{
		"fluid-water":   {Name: "water", TemperatureC: 23, Config: hall(t)},
		"fluid-oil":     {Name: "lubricating-oil:850", TemperatureC: 25},
		"fluid-air":     {Name: "air", TemperatureC: 12, PressureHPa: ptr(955)},
		"fluid-mercury": {Name: "mercury", TemperatureC: 20},
	} {
		s, err := Fluid(ask)
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name, s.String())
		unitsInKeys(t, s)
	}
	p, err := Gravity(47.37, 408)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "gravity", p.String())
	unitsInKeys(t, p)
}

// Every refusal of the converter can be told from a mistake in the command, which decides the exit status.
func TestRefusalsAreRefusals(t *testing.T) {
	_, err := bench(t, "panel-test").Budget(At{Read: &Given{LowMM: ptr(500), TemperatureC: ptr(20)}})
	var refusal *convert.Refusal
	if !errors.As(err, &refusal) {
		t.Errorf("got %v, want a *convert.Refusal", err)
	}
}
