package assemble

import (
	"math"
	"testing"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// The stated uncertainty of the air enters the budget at the live air, not at the configured one. Each contribution is held
// against half the difference of two results an uncertainty apart on either side, which is what c·u(x) stands for where the
// equation is smooth (JCGM 100:2008, 5.1.3, note 2).
func TestUncertaintyOfLiveAirIsThatOfTheLiveValue(t *testing.T) {
	conv := built(t, `    offline: true
    liquid: pale-oil
    geometry: {kind: u-tube, bore_mm: 8, scale_mm: [0, 600]}
    zero: {high_mm: 300, low_mm: 300, temperature_c: 20}
    uncertainty: {position_mm: 0, ambient_temperature_c: 0.5, ambient_pressure_hpa: 0.4, ambient_humidity_pct: 3}
`)
	at := func(celsius, pa, humidity float64) convert.Result {
		res := conv.Convert(convert.Reading{High: convert.Some(quantity.Millimetres(100)), Low: convert.Some(quantity.Millimetres(500)), Temperature: convert.Some(quantity.Celsius(21)),
			AmbientTemperature: convert.Some(quantity.Celsius(celsius)), AmbientPressure: convert.Some(quantity.AbsolutePressure(pa)), AmbientHumidity: convert.Some(quantity.Ratio(humidity))})
		if _, ok := res.Pressure(); !ok {
			t.Fatalf("got %v, want a pressure", res.Refusal)
		}
		return res
	}
	// Far from the configured 21 °C, 962 hPa and 40 %.
	const celsius, pa, humidity = 28.0, 78000.0, 0.8
	res := at(celsius, pa, humidity)
	half := func(a, b convert.Result) float64 {
		x, _ := a.Pressure()
		y, _ := b.Pressure()
		return math.Abs(x-y) / 2
	}
	for _, c := range []struct {
		input string
		want  float64
	}{
		{"ambient temperature", half(at(celsius+0.5, pa, humidity), at(celsius-0.5, pa, humidity))},
		{"air pressure", half(at(celsius, pa+40, humidity), at(celsius, pa-40, humidity))},
		{"air relative humidity", half(at(celsius, pa, humidity+0.03), at(celsius, pa, humidity-0.03))},
	} {
		found := false
		for i, in := range conv.Inputs() {
			if in.Name != c.input {
				continue
			}
			found = true
			if got := math.Abs(res.Contributions[i]); c.want == 0 || math.Abs(got-c.want) > 0.02*c.want {
				t.Errorf("%s: got %.6g Pa, want %.6g", c.input, got, c.want)
			}
		}
		if !found {
			t.Errorf("got no input %q in %v", c.input, conv.Inputs())
		}
	}
}
