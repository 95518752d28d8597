package configs

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"
)

// shared is a port with a barometer in unit 9 and instruments on it; %s are the registers of the port and the instruments.
const shared = `site: suite
location: {gravity_m_s2: 9.81, gravity_u_m_s2: 0}
ambient: {temperature_c: 20, pressure_hpa: 1000, relative_humidity_pct: 40, from: room}
ports:
  bus: {device: /dev/ttyUSB0, baud: 9600, silence: 10s, ask: {protocol: modbus-rtu, every: 2s, registers: %s}}
stations:
  room: {port: bus, address: "9"}
instruments:
%s`

// onBus is an instrument on that port.
func onBus(name, address, ask string) string {
	return fmt.Sprintf("  %s: {port: bus, address: %q%s, liquid: water, geometry: {kind: u-tube, bore_mm: 6, scale_mm: [-200, 200]}, zero: {low_mm: 1, temperature_c: 20}, temperature: {fixed_c: 20}}\n", name, address, ask)
}

const (
	air   = "{pressure_hpa: {at: 30, type: uint16, scale: 0.1}}"
	both  = "{low_mm: {at: 0, type: int16}, pressure_hpa: {at: 30, type: uint16, scale: 0.1}}"
	limbs = ", ask: {every: 500ms, registers: {low_mm: {at: 4, type: int16}}}"
)

// A station, and an instrument without an ask of its own, are asked what the port says, beside one that is asked its own.
func TestAskedBesideOneWithItsOwn(t *testing.T) {
	c := parsed(t, fmt.Sprintf(shared, both, onBus("plain", "17/left", "")+onBus("special", "17/right", limbs)))
	asked := c.Asked(&c.Ports[0])
	for i, want := range []struct {
		address string
		every   time.Duration
		fields  []string
	}{{"17/left", 2 * time.Second, []string{"low_mm", "pressure_hpa"}}, {"17/right", 500 * time.Millisecond, []string{"low_mm"}}, {"9", 2 * time.Second, []string{"low_mm", "pressure_hpa"}}} {
		if len(asked) != 3 {
			t.Fatalf("got %+v, want two instruments and a station", asked)
		}
		got := asked[i]
		if fields := slices.Sorted(maps.Keys(got.Registers.Named())); got.Address != want.address || got.Every != Duration(want.every) || !slices.Equal(fields, want.fields) {
			t.Errorf("got %s every %s for %q, want %+v", got.Address, got.Every, fields, want)
		}
	}
	for name, want := range map[string]string{"plain": FromFrame, "special": "room"} {
		i := slices.IndexFunc(c.Instruments, func(in Instrument) bool { return in.Name == name })
		if got := c.ChannelOf(&c.Instruments[i], "pressure_hpa"); got.From != want {
			t.Errorf("%s: got station pressure from %q, want %q", name, got.From, want)
		}
	}
}

// Where every instrument has registers of its own those of the port are the station's alone, which has no position. They are
// still needed, and one instrument without any makes a position needed.
func TestRegistersOfAStationAlone(t *testing.T) {
	own := onBus("special", "17", limbs)
	c := parsed(t, fmt.Sprintf(shared, air, own))
	if got := c.ChannelOf(&c.Instruments[0], "pressure_hpa"); got.From != "room" {
		t.Errorf("got station pressure from %q, want room", got.From)
	}
	if p := refused(t, fmt.Sprintf(shared, air, own+onBus("plain", "18", ", ask: {every: 1s}"))); !strings.Contains(p.Error(), "ports.bus.ask.registers: has no position") {
		t.Errorf("got %v, want a position demanded for plain", p)
	}
	if p := refused(t, strings.Replace(fmt.Sprintf(shared, air, own), ", registers: "+air, "", 1)); !strings.Contains(p.Error(), "ports.bus.ask.registers: needed") {
		t.Errorf("got %v, want registers demanded for the station", p)
	}
}
