package configs

import (
	"strings"
	"testing"
	"time"
)

const suite = `
site: suite
bridge: pc
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 40, from: room, max_age: 10m, when_old: bad}
ports:
  line: {device: /dev/ttyUSB0, baud: 9600, frame: {format: delimited, fields: [address, low_mm, temperature_c, ambient_c]}}
  room: {device: /dev/ttyUSB1, baud: 9600, frame: {format: delimited, fields: [ambient_c, pressure_hpa]}}
  bus: {device: /dev/ttyUSB2, baud: 9600, parity: even, ask: {protocol: modbus-rtu, every: 1s, registers: {low_mm: {at: 0, type: uint16}, temperature_c: {at: 1, type: uint16}}}}
stations:
  room: {port: room}
  idle: {port: bus, address: "9"}
instruments:
  a: {port: line, address: "1", liquid: water, geometry: &g}
`

// Where a channel comes from by default: the nearest that carries it. The source of ambient gives what its frames carry and no
// more.
func TestChannelOf(t *testing.T) {
	geometry := `{kind: inclined-reservoir, slope_deg: 30, bore_mm: 4, reservoir_bore_mm: 40, scale_mm: [0, 300]}, zero: {low_mm: 10, temperature_c: 20}`
	text := strings.Replace(suite, "&g", geometry, 1) + `
  b: {port: line, address: "2", liquid: water, geometry: ` + geometry + `, channels: {ambient_c: {from: fixed}, pressure_hpa: {from: a}, humidity_pct: {from: room, max_age: 2m}}}
  c: {port: bus, address: "3", liquid: water, geometry: ` + geometry + `, average: {window: 10s}}
  d: {offline: true, liquid: water, geometry: ` + geometry + `}
`
	_, err := Parse("suite", []byte(text), testOptions())
	if err == nil || !strings.Contains(err.Error(), "pressure_hpa") || !strings.Contains(err.Error(), "humidity_pct") {
		t.Fatalf("got %v, want what a source does not carry refused", err)
	}
	text = strings.Replace(text, "pressure_hpa: {from: a}, humidity_pct: {from: room, max_age: 2m}", "pressure_hpa: {from: room, max_age: 2m}", 1)
	c, err := Parse("suite", []byte(text), testOptions())
	if err != nil {
		t.Fatal(err)
	}
	ten := Channel{From: "room", MaxAge: Duration(10 * time.Minute), WhenOld: OldIsBad}
	for _, want := range []struct {
		instrument, field string
		Channel
	}{
		{"a", "ambient_c", Channel{From: FromFrame}}, {"a", "pressure_hpa", ten}, {"a", "humidity_pct", Channel{From: FromFixed}}, {"a", "tilt_deg", Channel{From: FromFixed}},
		{"b", "ambient_c", Channel{From: FromFixed, MaxAge: Duration(5 * time.Minute), WhenOld: OldIsUncertain}},
		{"b", "pressure_hpa", Channel{From: "room", MaxAge: Duration(2 * time.Minute), WhenOld: OldIsUncertain}},
		{"c", "ambient_c", ten}, {"c", "tilt_deg", Channel{From: FromFixed}},
		{"d", "pressure_hpa", Channel{From: FromFrame}},
	} {
		for i := range c.Instruments {
			if in := &c.Instruments[i]; in.Name == want.instrument {
				if got := c.ChannelOf(in, want.field); got != want.Channel {
					t.Errorf("%s of %s: got %+v, want %+v", want.field, want.instrument, got, want.Channel)
				}
			}
		}
	}
	said := ""
	for _, r := range c.Remarks {
		said += r.Key + ": " + r.Fault + "\n"
	}
	for _, want := range []string{"instruments.c.average: a window of 10s holds few readings", "stations.idle: no instrument takes anything from it"} {
		if !strings.Contains(said, want) {
			t.Errorf("got remarks\n%s\nwant %q", said, want)
		}
	}
	if strings.Contains(said, "stations.room: no instrument") {
		t.Errorf("got %q of a station in use", said)
	}
	if !c.OnlyStations("room") || c.OnlyStations("bus") || c.OnlyStations("line") {
		t.Error("got a port with an instrument for one of stations alone, or the reverse")
	}
	if at := c.Speakers("bus"); len(at) != 2 || at["3"] != "c" || at["9"] != "idle" {
		t.Errorf("got %v on the bus, want c and idle", at)
	}
}

// Where a channel comes from changes no coefficient: the same positions under the same air give the same results.
func TestChannelsAreNoCoefficients(t *testing.T) {
	geometry := `{kind: inclined-reservoir, slope_deg: 30, bore_mm: 4, reservoir_bore_mm: 40, scale_mm: [0, 300]}, zero: {low_mm: 10, temperature_c: 20}`
	canonical := func(more, ambient string) string {
		text := strings.Replace(suite, "&g", geometry+more, 1)
		text = strings.Replace(text, ", from: room, max_age: 10m, when_old: bad", ambient, 1)
		c, err := Parse("suite", []byte(text+"  c: {port: bus, address: \"3\", liquid: water, geometry: "+geometry+"}\n"), testOptions())
		if err != nil {
			t.Fatal(err)
		}
		out, err := c.Canonical("a")
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	if a, b := canonical("", ""), canonical(", channels: {pressure_hpa: {from: room}}, average: {window: 1m}", ", from: room, max_age: 1m"); a != b {
		t.Errorf("got %s, want %s", b, a)
	}
}
