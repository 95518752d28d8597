package assemble

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/convert/window"
)

// exact is an instrument of which everything is known but what its readings scatter by.
const exact = `
site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 0}
liquids: {oil: {density_kg_m3: 1000, density_u_kg_m3: 0, reference_c: 20, expansion_per_k: 0, expansion_u_per_k: 0}}
ports: {line: {device: /dev/ttyUSB0, baud: 9600, frame: {format: delimited, fields: [%s]}}}
instruments:
  it:
    port: line
    liquid: oil
    temperature: {fixed_c: 20}
    average: {window: 100s, min_good_fraction: 0.5}
    scale_expansion_per_k: 0
%s`

const (
	reservoir = `    geometry: {kind: inclined-reservoir, slope_deg: 30, bore_mm: 4, reservoir_bore_mm: 40, scale_mm: [0, 600]}
    zero: {low_mm: 10, temperature_c: 20}
    uncertainty: {position_mm: 0, zero_mm: 0, temperature_c: 0, slope_deg: 0, bore_mm: 0, reservoir_bore_mm: 0, ambient_temperature_c: 0, ambient_pressure_hpa: 0,
      ambient_humidity_pct: 0, scale_expansion_per_k: 0, tilt_deg: 0}
`
	uTube = `    geometry: {kind: u-tube, bore_mm: 8, scale_mm: [0, 600]}
    zero: {high_mm: 300, low_mm: 300, temperature_c: 20}
    uncertainty: {position_mm: 0, zero_mm: 0, temperature_c: 0, bore_mm: 0, ambient_temperature_c: 0, ambient_pressure_hpa: 0,
      ambient_humidity_pct: 0, scale_expansion_per_k: 0, tilt_deg: 0}
`
	dial = `    geometry: {kind: graduated, unit: Pa, scale: [0, 5000], liquid_density_kg_m3: 1000, gravity_m_s2: 9.81}
    zero: {reading: 0, temperature_c: 20}
    uncertainty: {reading: 0, zero_reading: 0, temperature_c: 0, liquid_density_kg_m3: 0, gravity_m_s2: 0, scale_temperature_c: 0, scale_gas_density_kg_m3: 0,
      ambient_temperature_c: 0, ambient_pressure_hpa: 0, ambient_humidity_pct: 0, scale_expansion_per_k: 0, tilt_deg: 0}
`
)

// The expanded uncertainty of an averaged result holds the pressure of the true mean, in 95 % of trials, with noise that is
// independent or alike from reading to reading, of one limb, of two that move apart, and of a scale in a unit of pressure.
func TestAveragedResultCovers(t *testing.T) {
	const truth = 100.0 // mm or Pa
	for _, c := range []struct {
		name, fields, block string
		n                   int
		phi                 float64
		put                 func(r *convert.Reading, x float64)
	}{
		{"reservoir, independent", "low_mm", reservoir, 50, 0, putLow},
		{"reservoir, alike", "low_mm", reservoir, 100, 0.5, putLow},
		{"reservoir, much alike", "low_mm", reservoir, 400, 0.9, putLow},
		{"two limbs, alike", "high_mm, low_mm", uTube, 100, 0.5, func(r *convert.Reading, x float64) {
			r.High, r.Low = convert.Some(quantity.Millimetres(300-x)), convert.Some(quantity.Millimetres(300+x))
		}},
		{"engraved, alike", "reading", dial, 100, 0.5, func(r *convert.Reading, x float64) { r.Indicated = convert.Some(x) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			file, err := configs.Parse("hall", []byte(fmt.Sprintf(exact, c.fields, c.block)), configs.Options{HostName: "bench"})
			if err != nil {
				t.Fatal(err)
			}
			conv, err := Converter(file, &file.Instruments[0])
			if err != nil {
				t.Fatal(err)
			}
			at := func(x float64) convert.Result {
				var r convert.Reading
				c.put(&r, x)
				return conv.Convert(r)
			}
			res := at(truth)
			want, ok := res.Pressure()
			if !ok {
				t.Fatalf("got %v, want a pressure", res.Refusal)
			}
			rng := rand.New(rand.NewPCG(3, uint64(c.n)))
			const trials = 300
			in, u := 0, 0.0
			for range trials {
				a, err := window.NewAverager(window.Options{Window: time.Duration(c.n-1) * time.Second, MinGood: 0.5, Convert: conv.Convert})
				if err != nil {
					t.Fatal(err)
				}
				x := rng.NormFloat64()
				var got convert.Result
				for i := range c.n {
					r := convert.Reading{SinceStart: time.Duration(i) * time.Second}
					c.put(&r, truth+x)
					got = a.Take(conv.Convert(r))
					x = c.phi*x + math.Sqrt(1-c.phi*c.phi)*rng.NormFloat64()
				}
				p, ok := got.Pressure()
				if got.Sample || !ok || got.Average.Good != c.n {
					t.Fatalf("got %+v, want an average of %d", got, c.n)
				}
				if math.Abs(p-want) <= got.ExpandedU {
					in++
				}
				u += got.CombinedU / trials
			}
			if share := float64(in) / trials; share < 0.91 { // 0.955 is stated; 300 trials scatter by 0.012
				t.Errorf("got the true pressure within U in %.3f of trials, want 0.93 but for chance", share)
			}
			// By the noise that was put in: 1 mm or Pa, √(τ/n) of it in the mean.
			slope := func() float64 {
				a, b := at(truth), at(truth+1)
				x, _ := a.Pressure()
				y, _ := b.Pressure()
				return math.Abs(y - x)
			}()
			if stated := slope * math.Sqrt((1+c.phi)/(1-c.phi)/float64(c.n)); u < 0.95*stated || u > 1.25*stated {
				t.Errorf("got u_c %.4f Pa on average, want %.4f, up to a quarter more", u, stated)
			}
		})
	}
}

func putLow(r *convert.Reading, x float64) { r.Low = convert.Some(quantity.Millimetres(x)) }
