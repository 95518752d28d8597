package configs

import (
	"slices"
	"strings"
	"testing"
)

// TestHasInEveryFormat asks frames of each format what they carry, as the checks and the converters do.
func TestHasInEveryFormat(t *testing.T) {
	for _, c := range []struct{ frame, carried string }{
		{`{format: delimited, fields: [address, skip, low_mm, temperature_c]}`, "address low_mm temperature_c"},
		{`{format: pattern, pattern: '(?P<address>[a-z]+) ([0-9]+) (?P<low_mm>[0-9.]+) (?P<temperature_c>[0-9.]+)'}`, "address low_mm temperature_c"},
		{`{format: json-lines, keys: {low_mm: column.position, temperature_c: oil, address: id}}`, "address low_mm temperature_c"},
		{`{format: nmea-xdr, transducers: {LOW: low_mm, OIL: temperature_c}, talker_address: true}`, "address low_mm temperature_c"},
		{`{format: binary, binary: {start: "AA55", length: 8, fields: [{field: address, at: 2, type: uint8}, {field: low_mm, at: 3, type: float32, order: little-swapped, scale: 1}, ` +
			`{field: temperature_c, at: 5, type: int8, scale: 1}], checksum: {name: xor-8, at: 7}}}`, "address low_mm temperature_c"},
	} {
		text := changed(t, "{format: delimited, fields: [low_mm, temperature_c]}", c.frame)
		f := parsed(t, strings.Replace(text, "    port: rack-a\n", "    port: rack-a\n    address: \"2\"\n", 1)).Ports[0].Frame
		got := slices.Sorted(slices.Values(f.Carried()))
		if strings.Join(got, " ") != c.carried || !f.Has("low_mm") || f.Has("high_mm") || f.Has("skip") {
			t.Errorf("%s: got %v, want %s", c.frame, got, c.carried)
		}
		// Frames with an address can be attributed only to an instrument that states its own.
		if _, err := Parse("bench", []byte(text), testOptions()); err == nil || !strings.Contains(err.Error(), "the frames of port rack-a carry one") {
			t.Errorf("%s: got %v, want the address asked for", c.frame, err)
		}
	}
}

// What tells instruments on one line of NMEA sentences apart is the talker, which is no field.
func TestAddressHintFitsTheFormat(t *testing.T) {
	for _, c := range []struct{ frame, hint string }{
		{"{format: delimited, fields: [low_mm, temperature_c]}", "add address to the fields of the frame, or remove it here"},
		{"{format: nmea-xdr, transducers: {LOW: low_mm, OIL: temperature_c}}", "state talker_address: true in the frame, where the talker tells them apart, or remove it here"},
	} {
		text := changed(t, "{format: delimited, fields: [low_mm, temperature_c]}", c.frame)
		_, err := Parse("bench", []byte(strings.Replace(text, "    port: rack-a\n", "    port: rack-a\n    address: \"2\"\n", 1)), testOptions())
		if err == nil || !strings.Contains(err.Error(), c.hint) {
			t.Errorf("%s: got %v, want %q", c.frame, err, c.hint)
		}
	}
}
