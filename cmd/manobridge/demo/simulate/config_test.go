package simulate

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

var places = Places{
	Devices: map[string]string{"slant-rack": "/dev/pts/7", "upright-rack": "/dev/pts/8"},
	Broker:  "tcp://127.0.0.1:18830", Journal: "/var/tmp/a b.db",
	Series: SeriesPlace{URL: "http://127.0.0.1:8428", Org: "lab", Bucket: "pressure"},
}

// parsed reads the configuration text back.
func parsed(t *testing.T, h *Hall) map[string]any {
	t.Helper()
	var m map[string]any
	if err := yaml.Unmarshal([]byte(h.Config(places)), &m); err != nil {
		t.Fatal(err)
	}
	return m
}

// at follows keys; it fails where one is absent.
func at(t *testing.T, v any, keys ...string) any {
	t.Helper()
	for _, k := range keys {
		m, ok := v.(map[string]any)
		if !ok || m[k] == nil {
			t.Fatalf("configuration has no %q of %v", k, keys)
		}
		v = m[k]
	}
	return v
}

func number(t *testing.T, v any) float64 {
	t.Helper()
	switch n := v.(type) {
	case int:
		return float64(n)
	case float64:
		return n
	}
	t.Fatalf("got %v (%T), want a number", v, v)
	return 0
}

// TestEverythingDrawnIsDeclared follows every draw to its place in the configuration and compares value and uncertainty.
func TestEverythingDrawnIsDeclared(t *testing.T) {
	h := build(t, TestHall(), 9)
	m := parsed(t, h)
	count := 0
	for _, d := range h.Draws() {
		value, u, ok := declaredAt(t, m, d)
		if !ok {
			continue
		}
		count++
		if value != nil && number(t, value) != d.Declared.Value {
			t.Errorf("%s %s: configuration says %v, want %g", d.Of, d.Key, value, d.Declared.Value)
		}
		if number(t, u) != d.Declared.U {
			t.Errorf("%s %s: configuration says u = %v, want %g", d.Of, d.Key, u, d.Declared.U)
		}
	}
	if undeclared := len(h.Draws()) - count; undeclared != 1 { // the purity of water: the built-in liquid has its own
		t.Errorf("%d draws are not in the configuration, want 1", undeclared)
	}
}

// declaredAt finds value and uncertainty of a draw; the value is nil where the draw is the zero or tie reading itself.
func declaredAt(t *testing.T, m map[string]any, d Draw) (value, u any, ok bool) {
	t.Helper()
	switch {
	case d.Of == Water:
		return nil, nil, false
	case d.Key == "gravity_m_s2":
		return at(t, m, "location", "gravity_m_s2"), at(t, m, "location", "gravity_u_m_s2"), true
	case d.Of == "site":
		key := map[string]string{"ambient_temperature_c": "temperature_c", "ambient_pressure_hpa": "pressure_hpa", "ambient_humidity_pct": "relative_humidity_pct"}[d.Key]
		return at(t, m, "ambient", key), at(t, m, "instruments", "bank-a", "uncertainty", d.Key), true
	case d.Key == "density_kg_m3":
		return at(t, m, "liquids", d.Of, d.Key), at(t, m, "liquids", d.Of, "density_u_kg_m3"), true
	case d.Key == "expansion_per_k":
		return at(t, m, "liquids", d.Of, d.Key), at(t, m, "liquids", d.Of, "expansion_u_per_k"), true
	}
	in := at(t, m, "instruments", d.Of)
	geometry, uncertainty := at(t, in, "geometry"), at(t, in, "uncertainty")
	switch d.Key {
	case "zero high_mm", "zero low_mm":
		return nil, at(t, uncertainty, "zero_mm"), true
	case "zero temperature_c":
		return nil, at(t, uncertainty, "zero_temperature_c"), true
	case "tie high_mm", "tie low_mm":
		return nil, at(t, uncertainty, "tie_mm"), true
	case "tie temperature_c":
		return nil, at(t, uncertainty, "tie_temperature_c"), true
	}
	for _, side := range []string{"high", "low"} {
		key, found := strings.CutPrefix(d.Key, side+" ")
		switch {
		case !found:
		case at(t, geometry, "kind") == string(LimbPair):
			return at(t, geometry, side, key), at(t, uncertainty, side, key), true
		case at(t, geometry, "kind") == string(UTube):
			return at(t, geometry, side+"_"+key), at(t, uncertainty, key), true
		case side == "high":
			return at(t, geometry, "reservoir_"+key), at(t, uncertainty, "reservoir_"+key), true
		default:
			return at(t, geometry, key), at(t, uncertainty, key), true
		}
	}
	return at(t, geometry, d.Key), at(t, uncertainty, d.Key), true
}

func TestConfigNamesThePlaces(t *testing.T) {
	m := parsed(t, build(t, TestHall(), 9))
	for _, tt := range []struct {
		want any
		keys []string
	}{
		{"/dev/pts/7", []string{"ports", "slant-rack", "device"}},
		{"/dev/pts/8", []string{"ports", "upright-rack", "device"}},
		{"tcp://127.0.0.1:18830", []string{"publish", "mqtt", "url"}},
		{"http://127.0.0.1:8428", []string{"publish", "series", "url"}},
		{"/var/tmp/a b.db", []string{"journal", "path"}},
		{"01", []string{"instruments", "bank-a", "address"}},
	} {
		if got := at(t, m, tt.keys...); got != tt.want {
			t.Errorf("%v: got %v, want %v", tt.keys, got, tt.want)
		}
	}
	if got := slices.Sorted(maps.Keys(at(t, m, "instruments").(map[string]any))); len(got) != len(TestHall().Instruments) {
		t.Errorf("got instruments %v, want %d", got, len(TestHall().Instruments))
	}
}
