package fluid

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
	"manobridge/convert/quantity/tabletest"
)

func TestMercuryAgainstTables(t *testing.T) {
	m := must[Mercury](t)(NewMercury(MercuryOptions{}))
	const scale = MercuryDensity20 / 13545.8544 // to the reference value from the polynomial as printed
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/mercury_density.csv") {
		tc, want := r.Number("temperature_c"), r.Number("density_kg_m3")
		tol := r.Number("comparison_tolerance_kg_m3")
		if low, high := m.Range(); tc < low.Celsius() || tc > high.Celsius() {
			tally.Skip(r, "outside the range")
			continue
		}
		got := float64(at(t, m, tc).Density)
		switch method := r.Text("method"); method {
		case "handbook_specific_volume_converted", "reference_value", "conventional_60F":
			r.Within("density", got, want, tol)
		case "printed_handbook_relative":
			r.Within("density", got, want/litre, tol)
		case "beattie_polynomial_its90_form":
			r.Within("density, unscaled", got/scale, want, tol)
		case "beattie_polynomial_ipts68_form":
			r.Within("density", got, want, 1.2e-6*want) // the two forms differ by at most 1 ppm below 40 °C
		case "conventional_for_mmHg":
			r.Within("density", got, want, 1.5e-6*want) // a convention, 1.3 ppm above the measured value
		default:
			t.Errorf("line %d: method %q is unknown", r.Line, method)
			continue
		}
		tally.Checked()
	}
	tally.Want(t, 32, 1) // 140 °C
}

func TestMercuryOwn(t *testing.T) {
	m := must[Mercury](t)(NewMercury(MercuryOptions{}))
	u := m.Inputs()[0].U
	stated := func(rho float64) Mercury {
		return must[Mercury](t)(NewMercury(MercuryOptions{Density: quantity.Density(rho), DensityU: Stated(0.014)}))
	}
	for _, tc := range []float64{-20, 0, 20, 50, 70, 100} {
		ownIs(t, m, stated(MercuryDensity20-u), stated(MercuryDensity20+u), tc, 0)
		s := at(t, m, tc)
		// A larger mean expansion makes mercury lighter above 20 °C and heavier below.
		if want := -float64(s.Density) * (tc - 20) * mercuryExpansionU; math.Abs(s.Own[1]-want) > 1e-9 {
			t.Errorf("%v °C: got %v, want %v", tc, s.Own[1], want)
		}
		if hot := s.Own[2] > 0; hot != (tc > 50) {
			t.Errorf("%v °C: contribution of the hot range is %v", tc, s.Own[2])
		}
	}
	if in := stated(13545.9).Inputs()[0]; in.U != 0.014 || in.Assumed || in.Value != 13545.9 {
		t.Errorf("got %+v, want what was stated", in)
	}
}

func TestMercuryRefusesWhatIsNone(t *testing.T) {
	for _, rho := range []float64{13.546, 13000, 13600, -1, math.NaN(), math.Inf(1)} {
		if _, err := NewMercury(MercuryOptions{Density: quantity.Density(rho)}); err == nil {
			t.Errorf("density %v kg/m³ was taken for mercury", rho)
		}
	}
}

// The reduction of a mercury barometer with a brass scale to 0 °C is a table as old as barometry, and it needs the
// density of mercury at the temperature and at 0 °C: B₀ = B (1 + β (t − t_s)) ρ(t)/ρ(0), t_s being where the scale is true.
func TestBarometerTemperatureCorrection(t *testing.T) {
	const (
		brassMetric   = 1.84e-5       // 1/K, scale true at 0 °C; WMO-No. 8 (from memory, reproduces the table)
		brassImperial = 1.02e-5 * 1.8 // 1/K, scale true at 62 °F (from memory, reproduces the table)
	)
	m := must[Mercury](t)(NewMercury(MercuryOptions{}))
	rho0 := float64(at(t, m, 0).Density)
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/barometer_temperature_correction.csv") {
		b, tc, tol := r.Number("observed_reading"), r.Number("temperature"), r.Number("comparison_tolerance")
		if r.Text("provenance") != "seen" {
			tally.Skip(r, "evaluation of a formula with rounded coefficients: no check of mercury")
			continue
		}
		brass, scaleTrue := brassMetric, 0.0
		if r.Text("temperature_unit") == "F" {
			tc = (tc - 32) / 1.8
			brass, scaleTrue = brassImperial, (62-32)/1.8
		}
		reduced := b * (1 + brass*(tc-scaleTrue)) * float64(at(t, m, tc).Density) / rho0
		r.Within("correction to subtract", b-reduced, r.Number("correction_to_subtract"), tol)
		tally.Checked()
	}
	tally.Want(t, 70, 12)
}
