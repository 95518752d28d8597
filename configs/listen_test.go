package configs

import (
	"strings"
	"testing"
)

// What answers without a password listens on this machine alone, unless that is asked for.
func TestListenAddresses(t *testing.T) {
	const file = `site: north-annex
location: {latitude_deg: 47.37, height_m: 408}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
instruments:
  u: {offline: true, liquid: water, geometry: {kind: u-tube, bore_mm: 6.0, scale_mm: [-250, 250]}, zero: {low_mm: 0.2, temperature_c: 20.4}}
operate: {`
	for keys, says := range map[string]string{
		`listen: "127.0.0.1:9464"`: "", `listen: "[::1]:9464"`: "", `listen: "localhost:9464"`: "", `listen: "127.8.0.1:1"`: "",
		`listen: "0.0.0.0:9464", listen_anywhere: true`: "", `listen: ":9464", listen_anywhere: true`: "",
		`listen: ":9464"`: "reached by other machines", `listen: "0.0.0.0:9464"`: "reached by other machines",
		`listen: "[::]:9464"`: "reached by other machines", `listen: "192.0.2.7:9464"`: "reached by other machines",
		`listen: "127.0.0.1"`: "is not an address and a port", `listen: "127.0.0.1:0"`: "is not an address and a port",
		`listen: "bench.example:9464"`: "the number of the address", `listen: "127.0.0.1:http"`: "is not an address and a port",
	} {
		_, err := Parse("file", []byte(file+keys+"}\n"), testOptions())
		switch {
		case says == "" && err != nil:
			t.Errorf("%s: got %v, want it taken", keys, err)
		case says != "" && (err == nil || !strings.Contains(err.Error(), says)):
			t.Errorf("%s: got %v, want it to say %q", keys, err, says)
		}
	}
}
