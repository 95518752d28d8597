package review

import (
	"strings"
	"testing"

	"manobridge/configs"
)

// By hand, at 1200 bit/s with even parity: 11 bits a character, 9.1667 ms; one float32 register: 8 + 5 + 4 characters and 3.5 of
// silence, 20.5 · 9.1667 = 187.9 ms a unit; three units 563.75 ms.
func TestRoundOfAnAskedLine(t *testing.T) {
	text := `site: hall
bridge: pc
location: {gravity_m_s2: 9.807, gravity_u_m_s2: 0}
ambient: {temperature_c: 20.0, pressure_hpa: 1000, relative_humidity_pct: 40}
ports: {a: {device: /dev/ttyUSB0, baud: 1200, parity: even, silence: 60s, ask: {protocol: modbus-rtu, every: EVERY, registers: {low_mm: {at: 0, type: float32, order: ABCD}}}}}
instruments:
`
	for _, unit := range []string{"1", "2", "3"} {
		text += "  duct-" + unit + ": {port: a, address: \"" + unit + "\", liquid: water, temperature: {fixed_c: 20}, geometry: {kind: u-tube, bore_mm: 6.0, scale_mm: [-250, 250]}, zero: {low_mm: 0, temperature_c: 20}}\n"
	}
	for every, note := range map[string]bool{"1s": false, "500ms": true} {
		c, err := configs.Parse("hall", []byte(strings.Replace(text, "EVERY", every, 1)), configs.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := Asked(c)
		if len(got) != 1 || !strings.Contains(got[0], "takes 564ms") || strings.Contains(got[0], "cannot keep up") != note {
			t.Errorf("every %s: got %q, want 564 ms and a note %v (worked by hand)", every, got, note)
		}
	}
}
