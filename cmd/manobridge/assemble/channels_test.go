package assemble

import (
	"strings"
	"testing"

	"manobridge/configs"
)

const tilted = `
site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 0}
ports:
  line: {device: /dev/ttyUSB0, baud: 9600, frame: {format: delimited, fields: [low_mm, temperature_c TILT]}}
  room: {device: /dev/ttyUSB1, baud: 9600, frame: {format: delimited, fields: [tilt_deg]}}
stations: {level: {port: room}}
instruments:
  it:
    port: line
    liquid: water
    geometry: {kind: inclined-reservoir, slope_deg: 30, bore_mm: 4, reservoir_bore_mm: 40, scale_mm: [10, 290]}
    zero: {low_mm: 10, temperature_c: 20}
MORE`

// A live tilt is refused where it could not be told from a change of pressure, wherever it comes from; a frame's own is left
// out where the file says that it is fixed.
func TestLiveTiltNeedsTheDistanceOfTheZero(t *testing.T) {
	for _, c := range []struct{ name, tilt, more, refusal string }{
		{"of its frames", ", tilt_deg", "", "tilt_deg of its frames"},
		{"of its frames, fixed instead", ", tilt_deg", "    channels: {tilt_deg: {from: fixed}}\n", ""},
		{"of its frames, with the distance", ", tilt_deg", "    zero_distance_mm: 100\n", ""},
		{"of a station", "", "    channels: {tilt_deg: {from: level}}\n", "channels.tilt_deg"},
		{"of a station, with the distance", "", "    channels: {tilt_deg: {from: level}}\n    zero_distance_mm: 100\n", ""},
	} {
		text := strings.Replace(strings.Replace(tilted, " TILT", c.tilt, 1), "MORE", c.more, 1)
		file, err := configs.Parse("hall", []byte(text), configs.Options{HostName: "bench"})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		_, err = Converter(file, &file.Instruments[0])
		if c.refusal == "" && err != nil || c.refusal != "" && (err == nil || !strings.Contains(err.Error(), c.refusal)) {
			t.Errorf("%s: got %v, want %q refused", c.name, err, c.refusal)
		}
	}
}
