package fluid

import (
	"math"
	"strings"
	"testing"

	"manobridge/convert/quantity"
	"manobridge/convert/quantity/tabletest"
)

// mm gives a length in mm or ends the test.
func mm(t testing.TB) func(quantity.Length, error) float64 {
	return func(l quantity.Length, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return l.Millimetres()
	}
}

// youngTension is Thomas Young's capillary constant for mercury, 4 σ |cos θ|/(ρ g) = 0.015 square inch, at 140°.
const youngTension = 0.4195 // N/m

func TestMercuryMeniscusAgainstTable(t *testing.T) {
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/capillary_mercury.csv") {
		m := Meniscus{Bore: quantity.Millimetres(r.Number("tube_bore_diameter_mm")), Tension: youngTension,
			Density: 13545.85, Gravity: 9.80665}
		if r.Text("surface_tension_n_m") != "" {
			m.Tension = quantity.SurfaceTension(r.Number("surface_tension_n_m"))
			m.Density = quantity.Density(r.Number("liquid_density_kg_m3"))
		}
		want := r.Number("central_depression_mm")
		contact := quantity.Degrees(140)
		switch kind := r.Text("kind"); {
		case strings.HasPrefix(kind, "observed"):
			// Cavendish's tubes, with the constant Young drew from them: his surface was not ours, so within 0.3 mm.
			r.Within("depression", -mm(t)(m.ApexRise(contact)), want, 0.3)
		case strings.HasPrefix(kind, "central depression by graphical"), strings.HasSuffix(kind, "contact angle given"):
			r.Within("depression", -mm(t)(m.ApexRise(contact)), want, r.Number("comparison_tolerance_mm"))
		case strings.HasPrefix(kind, "mean"):
			r.Within("mean depression", -mm(t)(m.MeanRise(contact)), want, r.Number("comparison_tolerance_mm"))
		case strings.HasSuffix(kind, "meniscus height given"):
			height := quantity.Millimetres(r.Number("meniscus_height_mm"))
			r.Within("depression", mm(t)(m.CrownDepression(height)), want, r.Number("comparison_tolerance_mm"))
		case strings.HasPrefix(kind, "handbook"):
			tally.Skip(r, "from memory, and 12 to 59 % below the Young-Laplace equation: not a test of it")
			continue
		default:
			t.Errorf("line %d: kind %q is unknown", r.Line, kind)
			continue
		}
		tally.Checked()
	}
	tally.Want(t, 86, 31)
}

func TestOtherMenisciAgainstTable(t *testing.T) {
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/capillary_other.csv") {
		want, tol := r.Number("result_value"), r.Number("comparison_tolerance")
		tube := func(bore string) float64 {
			m := Meniscus{Bore: quantity.Millimetres(r.Number(bore)),
				Tension: quantity.SurfaceTension(r.Number("surface_tension_n_m")),
				Density: quantity.Density(r.Number("density_kg_m3")), Gravity: quantity.Acceleration(r.Number("gravity_m_s2"))}
			return mm(t)(m.MeanRise(quantity.Degrees(r.Number("contact_angle_deg"))))
		}
		switch r.Text("case") {
		case "rise_narrow":
			r.Within("rise", tube("bore_diameter_mm")/10, want, tol)
		case "u_tube_unequal":
			r.Within("difference of level", tube("bore_diameter_mm")-tube("bore_diameter_2_mm"), want, tol)
		case "water_tension_20C":
			sigma, _, err := WaterSurfaceTension(quantity.Celsius(20))
			if err != nil {
				t.Fatal(err)
			}
			r.Within("surface tension", float64(sigma), want, tol)
		default:
			t.Errorf("line %d: case is unknown", r.Line)
		}
		tally.Checked()
	}
	tally.Want(t, 3, 0)
}

// In a narrow tube the middle of the meniscus follows Jurin, less a third of the radius for a wetting liquid: the volume
// of the liquid over the bottom of a hemisphere. Source: Lord Rayleigh, Proc. R. Soc. A 92 (1916) 184, first terms:
// a² = r (h + r/3 − 0.1288 r²/h), a² = 2 lc².
func TestApexRiseInNarrowTubes(t *testing.T) {
	for _, bore := range []float64{0.2, 0.5, 1} {
		m := Meniscus{Bore: quantity.Millimetres(bore), Tension: 0.0727, Density: 997, Gravity: 9.80665}
		h, r := mm(t)(m.ApexRise(0)), bore/2
		got := r * (h + r/3 - 0.1288*r*r/h)
		want := 2 * m.capillaryLength() * m.capillaryLength() * 1e6
		if math.Abs(got/want-1) > 1e-3 {
			t.Errorf("bore %v mm: got a² = %v mm², want %v ± 0.1 %% (Rayleigh 1916)", bore, got, want)
		}
	}
}

func TestApexRiseIsOddAboutARightAngle(t *testing.T) {
	m := Meniscus{Bore: quantity.Millimetres(6), Tension: 0.05, Density: 1000, Gravity: 9.80665}
	for _, off := range []float64{0, 1, 30, 60, 89, 90} {
		up, down := mm(t)(m.ApexRise(quantity.Degrees(90-off))), mm(t)(m.ApexRise(quantity.Degrees(90+off)))
		if math.Abs(up+down) > 1e-9 || (off > 0 && up <= 0) {
			t.Errorf("90° ∓ %v°: got %v and %v mm, want opposite and the first positive", off, up, down)
		}
	}
}

// A wide tube: the crown is flat, and the height at the wall is that of the expansion for large radii.
func TestMeniscusInAWideTube(t *testing.T) {
	m := Meniscus{Bore: quantity.Millimetres(200), Tension: 0.4865, Density: 13545.85, Gravity: 9.80665}
	if got := mm(t)(m.ApexRise(quantity.Degrees(140))); got != 0 {
		t.Errorf("got %v mm, want 0", got)
	}
	edge := quantity.Degrees(50)
	_, z := solveApex(19.9, float64(edge))
	if want := flatHeight(19.9, float64(edge)); math.Abs(z/want-1) > 2e-3 {
		t.Errorf("height at the wall: got %v, want %v ± 0.2 %% (expansion in 1/r)", z, want)
	}
}

func TestMeniscusRefuses(t *testing.T) {
	good := Meniscus{Bore: quantity.Millimetres(6), Tension: 0.4865, Density: 13545.85, Gravity: 9.80665}
	nan := math.NaN()
	for name, spoil := range map[string]func(*Meniscus){
		"bore in mm as m": func(m *Meniscus) { m.Bore = 6 },
		"no bore":         func(m *Meniscus) { m.Bore = 0 },
		"tension in mN/m": func(m *Meniscus) { m.Tension = 486.5 },
		"no density":      func(m *Meniscus) { m.Density = 0 },
		"no gravity":      func(m *Meniscus) { m.Gravity = 0 },
		"not a number":    func(m *Meniscus) { m.Density = quantity.Density(nan) },
	} {
		m := good
		spoil(&m)
		_, e1 := m.ApexRise(0)
		_, e2 := m.MeanRise(0)
		_, e3 := m.CrownDepression(0)
		if e1 == nil || e2 == nil || e3 == nil {
			t.Errorf("%s: got %v, %v, %v, want three refusals", name, e1, e2, e3)
		}
	}
	for _, contact := range []float64{-1, 181, nan} {
		if _, err := good.ApexRise(quantity.Degrees(contact)); err == nil {
			t.Errorf("contact angle %v° was taken", contact)
		}
	}
	for _, height := range []float64{-0.1, 3.5, nan} {
		if _, err := good.CrownDepression(quantity.Millimetres(height)); err == nil {
			t.Errorf("meniscus height %v mm was taken", height)
		}
	}
}

func BenchmarkApexRise(b *testing.B) {
	m := Meniscus{Bore: quantity.Millimetres(8), Tension: 0.4865, Density: 13545.85, Gravity: 9.80665}
	for b.Loop() {
		if _, err := m.ApexRise(quantity.Degrees(140)); err != nil {
			b.Fatal(err)
		}
	}
}
