package gravity

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"manobridge/convert/quantity"
	"manobridge/convert/quantity/tabletest"
)

func TestAgainstTable(t *testing.T) {
	var tally tabletest.Tally
	for _, r := range tabletest.Rows(t, "testdata/gravity.csv") {
		want, tol := r.Number("gravity_m_s2"), r.Number("comparison_tolerance_m_s2")
		h := r.Number("height_m_above_ellipsoid_or_sea_level")
		method := r.Text("method")
		if method == "standard_gravity" {
			r.Within("standard gravity", Standard, want, tol)
			tally.Checked()
			continue
		}
		phi := quantity.Degrees(r.Number("latitude_deg"))
		switch method {
		case "normal_gravity_exact":
			// Independent: a geodesy library's closed form. What the second-order term leaves: 1e-7 m/s² up to 1 km,
			// 4e-7 up to 4 km.
			tol = 1.1e-7
			if h > 1000 {
				tol = 4e-7
			}
			fallthrough
		case "somigliana_wgs84", "free_air_second_order":
			r.Within("normal gravity", value(t)(FromLatitude(phi, quantity.Metres(h))), want, tol)
		case "wmo_no8_as_printed":
			r.Within("WMO form", value(t)(FromLatitudeWMO(phi, quantity.Metres(h), quantity.Metres(h))), want, tol)
		case "smithsonian_1951":
			// A third formula, 3 to 11 ppm from normal gravity: a coarse check, its coefficients are from memory.
			r.Within("normal gravity", value(t)(FromLatitude(phi, quantity.Metres(h))), want, 12e-6*want)
		default:
			t.Errorf("line %d: method %q is unknown", r.Line, method)
			continue
		}
		tally.Checked()
	}
	tally.Want(t, 81, 0)
}

// value unwraps a computed gravity and checks what belongs to all of them.
func value(t *testing.T) func(Gravity, error) float64 {
	return func(g Gravity, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		if g.U != 3e-4 || !g.Assumed || g.Source == "" {
			t.Errorf("got %+v, want u = 3e-4 m/s², assumed, with a source", g)
		}
		return float64(g.Value)
	}
}

func TestMeasured(t *testing.T) {
	g, err := Measured(9.80715, 0.00002)
	if err != nil || g.Value != 9.80715 || g.U != 0.00002 || g.Assumed || g.Source == "" {
		t.Errorf("got %+v, %v", g, err)
	}
	nan := math.NaN()
	for _, bad := range []struct {
		v quantity.Acceleration
		u float64
	}{{980.715, 0}, {9.7, 0}, {9.84, 0}, {quantity.Acceleration(nan), 0}, {9.8, -1e-5}, {9.8, 0.1}, {9.8, nan}} {
		if g, err := Measured(bad.v, bad.u); err == nil {
			t.Errorf("got %+v for %+v, want a refusal", g, bad)
		}
	}
}

func TestPlaceRefused(t *testing.T) {
	nan := math.NaN()
	for _, bad := range []struct{ phi, h float64 }{{90.01, 0}, {-91, 0}, {nan, 0}, {47, 6001}, {47, -501}, {47, nan}, {47, 40800}} {
		if g, err := FromLatitude(quantity.Degrees(bad.phi), quantity.Metres(bad.h)); err == nil {
			t.Errorf("got %+v for %+v, want a refusal", g, bad)
		}
		if g, err := FromLatitudeWMO(quantity.Degrees(bad.phi), quantity.Metres(bad.h), 0); err == nil {
			t.Errorf("WMO form: got %+v for %+v, want a refusal", g, bad)
		}
	}
	if _, err := FromLatitudeWMO(quantity.Degrees(47), 0, quantity.Metres(nan)); err == nil {
		t.Error("terrain that is not a number was taken")
	}
	_, err := FromLatitude(quantity.Degrees(95), 0)
	if want := "latitude is 95 °; allowed: -90 to 90 °; check the location's latitude"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestNormalGravityShape(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		phi := rapid.Float64Range(0, 89).Draw(rt, "latitude")
		h := rapid.Float64Range(-500, 5999).Draw(rt, "height")
		g := func(phi, h float64) float64 { return value(t)(FromLatitude(quantity.Degrees(phi), quantity.Metres(h))) }
		if north, south := g(phi, h), g(-phi, h); north != south {
			rt.Fatalf("north and south differ: %v and %v", north, south)
		}
		if g(phi+1, h) <= g(phi, h) {
			rt.Fatalf("gravity falls towards the pole at %v°", phi)
		}
		if g(phi, h+1) >= g(phi, h) {
			rt.Fatalf("gravity grows with height at %v m", h)
		}
	})
}
