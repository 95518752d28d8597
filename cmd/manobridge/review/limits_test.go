package review

import (
	"strings"
	"testing"

	"manobridge/configs"
)

// A vertical water column, read to 0.5 mm by eye in each limb, is 4.9 Pa: it cannot support a criterion of 2.5 Pa (common
// practice; 0.5 mm · 998 kg/m³ · 9.807 m/s² = 4.9 Pa).
func TestLimitsSayWhatTheInstrumentCannot(t *testing.T) {
	c, err := configs.Parse("hall", []byte(`site: hall
bridge: pc
location: {gravity_m_s2: 9.807, gravity_u_m_s2: 0}
ambient: {temperature_c: 20.0, pressure_hpa: 1000, relative_humidity_pct: 40}
ports: {a: {device: /dev/ttyUSB0, baud: 9600, frame: {format: delimited, fields: [high_mm, low_mm, temperature_c]}}}
instruments:
  ward: {port: a, liquid: water, geometry: {kind: u-tube, bore_mm: 6.0, scale_mm: [-250, 250]}, zero: {high_mm: 0, low_mm: 0, temperature_c: 20}, uncertainty: {position_mm: 0.5, zero_mm: 0.5}}
limits:
  isolation: {of: ward, high: -2.5 Pa, deadband: 0.1 Pa, decision: guarded-acceptance, priority: high, response: call}
  window: {of: ward, high: -2.5 Pa, low: -7.5 Pa, deadband: 0.1 Pa, decision: guarded-acceptance, priority: high, response: call}
  far: {of: ward, high: 9 kPa, deadband: 1 Pa, decision: guarded-acceptance, priority: high, response: call}
  filter: {of: ward, high: 250 Pa, deadband: 1 Pa, decision: guarded-acceptance, priority: low, response: change it}
`), configs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cards, err := Limits(c)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"cannot support this criterion", "inside can never be told", "can never be seen to be crossed", ""} {
		text := cards[i].text("", 1)
		if want == "" && strings.Contains(text, "NOTE") || !strings.Contains(text, want) {
			t.Errorf("got %q, want %q", text, want)
		}
	}
	// Four readings of 0.5 mm: 2 · 0.5 mm · 9.79 Pa/mm as a standard uncertainty, twice that expanded.
	if u := cards[3].UPa; u < 19 || u > 20.5 {
		t.Errorf("got U = %g Pa at 250 Pa, want 19.6 Pa and little more (worked by hand)", u)
	}
}
