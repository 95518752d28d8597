package review

import (
	"strings"
	"testing"

	"manobridge/configs"
)

const benches = `
site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 0}
liquids:
  oil: {density_kg_m3: 1000, density_u_kg_m3: 0, reference_c: 20, expansion_per_k: 0.001}
instruments:
  dial:
    offline: true
    liquid: oil
    geometry: {kind: graduated, unit: inH2O, scale: [0, 10], liquid_density_kg_m3: 1000}
    zero: {reading: 0, temperature_c: 20}
  unmarked:
    offline: true
    liquid: oil
    geometry: {kind: graduated, unit: Pa, liquid_density_kg_m3: 1000}
    zero: {reading: 0, temperature_c: 20}
  cooled:
    offline: true
    liquid: oil
    geometry: {kind: inclined-reservoir, slope_deg: 30, bore_mm: 4, reservoir_bore_mm: 40, scale_mm: [10, 290]}
    zero: {low_mm: 10, temperature_c: 20}
    charge_ml: 100
`

func cards(t *testing.T) map[string]Card {
	t.Helper()
	c, err := configs.Parse("benches", []byte(benches), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]Card{}
	for i := range c.Instruments {
		if all[c.Instruments[i].Name], err = Instrument(c, &c.Instruments[i]); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// An inch of water is not one pressure: 249.089 Pa by convention, 248.84 Pa at 60 °F (NIST SP 811, appendix B). What was
// taken is said.
func TestEngravedScaleSaysWhatWasTaken(t *testing.T) {
	notes := strings.Join(cards(t)["dial"].Notes, "\n")
	for _, says := range []string{"249.08891 Pa", "9.80665 m/s²", "no gas"} {
		if !strings.Contains(notes, says) {
			t.Errorf("got notes %q, want them to say %q", notes, says)
		}
	}
}

// An engraved scale without its marks has no range; that is said, and is no mistake.
func TestNoMarksNoRange(t *testing.T) {
	card := cards(t)["unmarked"]
	if len(card.Points) != 0 || !strings.Contains(strings.Join(card.Notes, "\n"), "range_pa") {
		t.Errorf("got points %v and notes %q, want none, and a note that names range_pa", card.Points, card.Notes)
	}
}

// Without a stated range the range is the scale, and its ends are on it.
func TestEndsOfTheScaleAreOnIt(t *testing.T) {
	for name, card := range cards(t) {
		for _, p := range card.Points {
			if !p.OnScale {
				t.Errorf("%s at %s (%v Pa): got off the scale, want on it", name, p.Where, p.PressurePa)
			}
		}
	}
}
