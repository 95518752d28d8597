package assemble

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// at converts one reading at 20 °C and wants a pressure.
func at(t *testing.T, conv *convert.Converter, r convert.Reading) *convert.Result {
	t.Helper()
	r.Temperature = convert.Some(quantity.Celsius(20))
	res := conv.Convert(r)
	if _, ok := res.Pressure(); !ok {
		t.Fatalf("got a refusal: %v", res.Refusal)
	}
	return &res
}

func low(mm float64) convert.Reading {
	return convert.Reading{Low: convert.Some(quantity.Millimetres(mm))}
}

// Air trapped on top of an inverted U-tube at a stated line pressure does not follow the barometer of the room:
// ρ_air = p/(287.05 J/(kg K) · 293.15 K) = 11.88 kg/m³ at 1000 kPa (ideal gas, compressibility 0.997), so
// Δp = (1180 − 11.9) · 9.80715 · 0.1 = 1145.6 Pa; with 900 hPa it would be 1156.2 Pa.
func TestTrappedAirAtLinePressureIgnoresTheRoom(t *testing.T) {
	conv := built(t, `    offline: true
    liquid: air
    geometry: {kind: inverted-u-tube, bore_mm: 8.0, line_fluid: brine, scale_mm: [0, 600]}
    zero: {high_mm: 300, low_mm: 300, temperature_c: 20}
    line_pressure_kpa: 1000
`)
	r := low(250)
	r.High = convert.Some(quantity.Millimetres(350))
	r.AmbientPressure = convert.Some(quantity.AbsolutePressure(90000))
	got, _ := at(t, conv, r).Pressure()
	if want := (1180 - 1e6/(287.05*293.15*0.997)) * 9.80715 * 0.1; math.Abs(got-want) > 0.05 {
		t.Errorf("got %v Pa, want %v ± 0.05 Pa (ideal gas)", got, want)
	}
}

// An engraved scale is true at the temperature it was made for: 0 °C, read at 20 °C with α = 1e-4 /K, makes the marks
// 0.2 % longer. 500 Pa at 835 kg/m³, vacuum and 9.80665 m/s² is h = 61.060 mm; the oil in it is 830 kg/m³ under air of
// 1.139 kg/m³ (21 °C, 962 hPa), and the zero stood at 0: Δp = (830 − 1.135) · 9.80715 · 0.061060 · 1.002.
func TestEngravedScaleTemperature(t *testing.T) {
	conv := built(t, `    offline: true
    liquid: pale-oil
    geometry: {kind: graduated, unit: Pa, scale: [0, 1000], liquid_density_kg_m3: 835, scale_temperature_c: 0}
    zero: {reading: 0, temperature_c: 20}
    scale_expansion_per_k: 0.0001
    uncertainty: {scale_temperature_c: 2}
`)
	got, _ := at(t, conv, convert.Reading{Indicated: convert.Some(500.0)}).Pressure()
	want := (830 - 1.135) * 9.80715 * 500 / (835 * 9.80665) * 1.002
	if math.Abs(got-want) > 0.01 {
		t.Errorf("got %v Pa, want %v ± 0.01 Pa by hand", got, want)
	}
	in := input(t, conv, "temperature the scale was made for")
	if in.U != 2 || in.Assumed {
		t.Errorf("got %+v, want u = 2 °C as stated", in)
	}
}

// A cistern is wide: the mercury in the 8 mm tube stands lower by its capillary depression, the cistern does not. The
// depression in 8 mm is between 0.3 and 0.9 mm, 40 to 120 Pa (handbook tables, menisci 0.8 to 1.4 mm high).
func TestCisternWithoutBoreDoesNotCancelCapillarity(t *testing.T) {
	for _, cistern := range []string{"cistern: adjustable", "scale_compensated: true"} {
		conv := built(t, fmt.Sprintf(`    offline: true
    liquid: mercury
    geometry: {kind: sealed, bore_mm: 8.0, %s, scale_mm: [650, 850]}
    scale_expansion_per_k: 0
`, cistern))
		got, _ := at(t, conv, low(760)).Pressure()
		// 13545.87 kg/m³ at 20 °C (Bettin and Fehlauer, Metrologia 41 (2004) S16).
		column := 13545.87 * 9.80715 * 0.760
		if over := got - column; over < 40 || over > 120 {
			t.Errorf("%s: got %v Pa over the column of %v Pa, want 40 to 120 Pa for the depression", cistern, over, column)
		}
	}
}

// What would count from a zero nobody read, or from a vapour nobody knows, is refused.
func TestAssembleRefuses(t *testing.T) {
	pair := `    offline: true
    liquid: brine
    geometry:
      kind: limb-pair
      high: {slope_deg: 90, bore_mm: 8.0, tap_height_mm: 520, scale_mm: [0, 500]}
      low: {slope_deg: 30, bore_mm: 5.0, tap_height_mm: 520, scale_mm: [0, 700]}
`
	sealed := `    offline: true
    liquid: %s
    geometry: {kind: sealed, bore_mm: 8.0, scale_mm: [0, 9999]}
`
	const two = `    offline: true
    liquid: brine
    geometry: {kind: two-liquid, tube_bore_mm: 5, chamber_bore_mm: 50, chamber_liquid: pale-oil, line_fluid: air, scale_mm: [0, 200]}
    zero: {high_mm: 100, low_mm: 100, temperature_c: 20}
`
	const engraved = `    offline: true
    liquid: brine
    geometry: {kind: graduated, unit: Pa, liquid_density_kg_m3: 1180, scale_temperature_c: 20}
    zero: {reading: 0, temperature_c: 20}
`
	for name, c := range map[string]struct{ block, says string }{
		"zero without the high limb": {pair + "    zero: {low_mm: 330, temperature_c: 20}\n", "high_mm"},
		"zero of the other limb":     {pair + "    tie: {high_mm: 230.0, low_mm: 330.0, temperature_c: 20.0}\n    zero: {high_mm: 230, temperature_c: 20}\n", "low_mm"},
		"water under its own vapour": {fmt.Sprintf(sealed, "water") + "    uncertainty: {vapour_pressure_pa: 5}\n", "2.3 kPa"},
		"lines of a two-liquid":      {two + "    legs: {high: {fluid: pale-oil, tap_height_mm: 900}}\n", "legs"},
		"distance of a two-liquid":   {two + "    zero_distance_mm: 100\n", "zero_distance_mm"},
		"line over a closed limb":    {fmt.Sprintf(sealed, "mercury") + "    legs: {low: {fluid: pale-oil, tap_height_mm: 900}}\n", "legs.low"},
		"tilt of an engraved scale":  {engraved + "    tilt_deg: 2\n", "slope"},
		"two references":             {engraved + "    scale_reference_c: 10\n", "scale_temperature_c"},
		"tilted since, no distance": {`    offline: true
    liquid: brine
    geometry: {kind: inclined-reservoir, slope_deg: 30, area_ratio: 0.01, scale_mm: [0, 300]}
    zero: {low_mm: 10, temperature_c: 20, tilt_deg: 1}
    tilt_deg: 2
`, "zero_distance_mm"},
		"oil under unknown vapour": {fmt.Sprintf(sealed, "pale-oil"), "vapour_pressure_pa"},
	} {
		t.Run(name, func(t *testing.T) {
			cfg, err := configs.Parse("hall", []byte(fmt.Sprintf(hall, "  it:\n"+c.block)), configs.Options{HostName: "bench"})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := Converter(cfg, &cfg.Instruments[0]); err == nil || !strings.Contains(err.Error(), c.says) {
				t.Errorf("got %v, want an error that says %q", err, c.says)
			}
		})
	}
}

// The distance of the zero mark under a tilt of 2°: u = 3 mm moves the zero by 3 mm · sin 2° = 0.1047 mm of height, that is
// (830 − 1.135) · 9.80715 · 1.047e-4 = 0.851 Pa. Both at an upright tilt of 0 it would be nothing.
func TestZeroDistanceUncertaintyCounts(t *testing.T) {
	conv := built(t, `    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 30, area_ratio: 0.01, scale_mm: [0, 300]}
    zero: {low_mm: 10, temperature_c: 20}
    tilt_deg: 2
    zero_distance_mm: 100
    uncertainty: {zero_distance_mm: 3}
`)
	res := at(t, conv, low(110))
	for i, in := range conv.Inputs() {
		if in.Name != "distance of the zero mark" {
			continue
		}
		want := (830 - 1.135) * 9.80715 * 3e-3 * math.Sin(2*math.Pi/180)
		if got := res.Contributions[i]; math.Abs(got-want) > 1e-3 {
			t.Errorf("got %v Pa, want %v ± 0.001 Pa by hand", got, want)
		}
		return
	}
	t.Errorf("got no input for the distance of the zero mark")
}

// Two lines that state the same temperature each bring their own uncertainty of it: p changes by g ρ β u (tap − z) of each
// line, 830 · 0.00085 · 9.80715 · (0.9 − 0.2) = 4.84 Pa/K for the high line, and as much of the other sign for the low one.
// Where the zero was taken with the same level, only the difference since then is left: 0.1 m of each line, 0.69 Pa/K.
func TestLinesAtEqualTemperatureAreTwoInputs(t *testing.T) {
	block := `    offline: true
    liquid: brine
    geometry: {kind: u-tube, bore_mm: 6, scale_mm: [0, 500]}
    zero: {high_mm: 200, low_mm: 200, temperature_c: 20}
    legs: {high: {fluid: pale-oil, temperature_c: 20, tap_height_mm: 900}, low: {fluid: pale-oil, temperature_c: 20, tap_height_mm: 900}}
    uncertainty: {high: {leg_temperature_c: 0}, low: {leg_temperature_c: 2}}
`
	conv := built(t, block)
	r := low(300)
	r.High = convert.Some(quantity.Millimetres(100))
	res := at(t, conv, r)
	var got []float64
	for i, in := range conv.Inputs() {
		if in.Name == "pale-oil leg temperature" {
			got = append(got, math.Abs(res.Contributions[i]))
		}
	}
	if want := 830 * 0.00085 * 9.80715 * 0.1 * 2; len(got) != 2 || got[0] != 0 || math.Abs(got[1]-want) > 0.01 {
		t.Errorf("got %v Pa, want 0 and %v ± 0.01 Pa by hand", got, want)
	}
}

// A live tilt counts from the level base of the zero: 2° under a zero mark 100 mm from the reservoir lifts the mark by
// 100 mm · sin 2°, and the 10 mm of tube below it go from 10 sin 30° cos 2° to 10 sin 32°: 3.7922 mm in all. Its uncertainty
// counts, stated or not. A distance of 0 is a distance.
func TestLiveTilt(t *testing.T) {
	const deg = math.Pi / 180
	for _, mm := range []float64{100, 0} {
		conv := built(t, fmt.Sprintf(`    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 30, area_ratio: 0.01, scale_mm: [0, 300]}
    zero: {low_mm: 10, temperature_c: 20}
    zero_distance_mm: %g
`, mm))
		r := low(10)
		r.Tilt = convert.Some(quantity.Degrees(2))
		got, _ := at(t, conv, r).Pressure()
		lift := (mm*math.Sin(2*deg) + 10*math.Sin(32*deg) - 10*math.Sin(30*deg)*math.Cos(2*deg)) / 1000
		if want := (830 - 1.135) * 9.80715 * lift; math.Abs(got-want) > 1e-3 {
			t.Errorf("%v mm: got %v Pa, want %v ± 0.001 Pa by hand", mm, got, want)
		}
		if in := input(t, conv, "tilt"); !in.Assumed || in.U != assumedTiltDeg {
			t.Errorf("%v mm: got %+v, want the documented default", mm, in)
		}
	}
}
