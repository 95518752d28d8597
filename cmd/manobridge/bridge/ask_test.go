package bridge_test

import (
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
	rtu "manobridge/ingest/modbus"
)

// Units of one line are asked by the bridge and journalled; one has a broken thermometer, one is switched off; then the
// adapter goes. The units are a slave by other authors.
func TestModbusUnitsAreJournalled(t *testing.T) {
	line := ingesttest.NewModbusLine(t, filepath.Join("..", "..", "..", "ingest", "testdata", "modbus_slave.py"),
		"2,ir,100,float32,CDAB,150.5", "2,ir,102,int16,,215", "3,ir,100,float32,CDAB,110.25", "3,ir,102,int16,,-32768")
	path := journalPath(t)
	x := start(t, askConfig(t, line.Path, path))
	eventually(t, "readings of unit 2", func() bool { return x.b.Counts().Good >= 3 })
	eventually(t, "silence and refusals", func() bool {
		s := x.b.Sources()[0].Stats()
		return s.Refused[convert.FrameErrorWord] >= 1 && s.Instruments["bank-4"].Cause == convert.Silence
	})
	line.Unplug()
	eventually(t, "the gap of every instrument", func() bool { return x.b.Sources()[0].Stats().Refused[convert.PortGone] >= 3 })
	x.end()

	// 150.5 is 43168000 (IEEE 754), its low word sent first; 215 is 00D7.
	want := "\x02\x04\x06\x80\x00\x43\x16\x00\xd7"
	good := 0
	for _, row := range rows(t, path) {
		_, ok := row.Pressure()
		switch {
		case ok && row.Instrument != "bank-2":
			t.Errorf("%s seq %d: got a pressure, want none: it has no value to give", row.Instrument, row.Seq)
		case ok && (!strings.HasPrefix(string(row.Frame), want) || len(row.Frame) != len(want)+2):
			t.Errorf("bank-2 seq %d: got % X, want % X and a check value", row.Seq, row.Frame, want)
		case ok:
			good++
		}
	}
	if good < 3 {
		t.Errorf("got %d pressures of bank-2 in the journal, want at least the 3 that were counted", good)
	}
}

func askConfig(t *testing.T, device, journalPath string) *configs.Config {
	t.Helper()
	var instruments strings.Builder
	for _, unit := range []string{"2", "3", "4"} {
		fmt.Fprintf(&instruments, "  bank-%s: {port: rack-a, address: %q, liquid: water, zero: {low_mm: 10.2, temperature_c: 20.4}, geometry: {kind: inclined-reservoir, "+
			"slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}}\n", unit, unit)
	}
	c, err := configs.Parse("ask.yaml", fmt.Appendf(nil, `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
ports:
  rack-a:
    device: %q
    baud: 19200
    ask:
      protocol: modbus-rtu
      every: 200ms
      timeout: 200ms
      registers:
        low_mm: {table: input, at: 100, type: float32, order: CDAB}
        temperature_c: {table: input, at: 102, type: int16, scale: 0.1, no_value: ["80 00"]}
    silence: 2s
    reopen: {first: 20ms, longest: 100ms}
instruments:
%sjournal: {path: %q}
`, device, instruments.String(), journalPath), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What the file says of a port that asks is what is asked.
func TestAskIsMapped(t *testing.T) {
	p := askConfig(t, "/dev/ttyS9", journalPath(t)).Ports[0]
	p.Parity, p.Ask.Registers.TemperatureC.Table, p.Ask.Registers.TemperatureC.Offset = "even", "holding", -5
	every := configs.Duration(200 * time.Millisecond)
	o := bridge.PollOptions(&p, []configs.Asked{{Address: "3", Every: every, Registers: p.Ask.Registers}, {Address: "no unit", Every: every}})
	// 11 bits: start, 8 of data, parity, stop.
	if want := 11 * time.Second / 19200; o.Character != want || o.Timeout != 200*time.Millisecond || o.Port != "rack-a" {
		t.Errorf("got character %v, timeout %v, port %s, want %v, 200ms, rack-a", o.Character, o.Timeout, o.Port, want)
	}
	want := map[string]rtu.Register{
		"low_mm":        {Function: rtu.ReadInput, At: 100, Type: "float32", Order: "CDAB", Scale: 1},
		"temperature_c": {Function: rtu.ReadHolding, At: 102, Type: "int16", Scale: 0.1, Offset: -5, NoValue: []string{"8000"}},
	}
	if len(o.Instruments) != 2 {
		t.Fatalf("got %d instruments, want 2", len(o.Instruments))
	}
	if in := o.Instruments[0]; in.Unit != 3 || in.Address != "3" || in.Every != 200*time.Millisecond || !reflect.DeepEqual(in.Registers, want) {
		t.Errorf("got %+v, want unit 3 every 200ms with %+v", in, want)
	}
	if in := o.Instruments[1]; in.Unit != 0 {
		t.Errorf("got unit %d of an address that is none, want 0, which is refused", in.Unit)
	}
}

// Two instruments in one unit, one with registers and an interval of its own.
func TestOwnAskIsMapped(t *testing.T) {
	text := `site: test-hall
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
ports: {rack: {device: /dev/ttyS9, baud: 19200, silence: 9s, ask: {protocol: modbus-rtu, registers: {low_mm: {table: input, at: 100, type: int16}}}}}
instruments:
  left: {port: rack, address: "17/left", liquid: water, temperature: {fixed_c: 20}, zero: {low_mm: 1, temperature_c: 20}, geometry: {kind: u-tube, bore_mm: 6, scale_mm: [-200, 200]}}
  right: {port: rack, address: "17/right", ask: {every: 5s, registers: {low_mm: {at: 40, type: int16}, temperature_c: {at: 41, type: int16}}}, liquid: water, zero: {low_mm: 1, temperature_c: 20}, geometry: {kind: u-tube, bore_mm: 6, scale_mm: [-200, 200]}}
journal: {path: j.db}
`
	c, err := configs.Parse("own.yaml", []byte(text), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	o := bridge.PollOptions(&c.Ports[0], c.Asked(&c.Ports[0])).Instruments
	if len(o) != 2 {
		t.Fatalf("got %d instruments, want 2", len(o))
	}
	if l := o[0]; l.Unit != 17 || l.Every != time.Second || len(l.Registers) != 1 || l.Registers["low_mm"].At != 100 || l.Registers["low_mm"].Function != rtu.ReadInput {
		t.Errorf("got left %+v, want what the port says", l)
	}
	if r := o[1]; r.Unit != 17 || r.Every != 5*time.Second || len(r.Registers) != 2 || r.Registers["low_mm"].At != 40 || r.Registers["low_mm"].Function != rtu.ReadHolding {
		t.Errorf("got right %+v, want its own", r)
	}
}

// The file allows the types and fields that can be read, all of them.
func TestWordsOfTheRegisters(t *testing.T) {
	f, _ := reflect.TypeFor[configs.Register]().FieldByName("Type")
	got := strings.Split(f.Tag.Get("enum"), "|")
	want := rtu.Types()
	slices.Sort(got)
	if slices.Sort(want); !slices.Equal(got, want) {
		t.Errorf("got types %q, want %q", got, want)
	}
	got = nil
	for _, f := range reflect.VisibleFields(reflect.TypeFor[configs.Registers]()) {
		if !f.Anonymous {
			got = append(got, f.Tag.Get("yaml"))
		}
	}
	want = slices.DeleteFunc(frame.FieldNames(), func(name string) bool { return !new(frame.Frame).Set(name, 0) })
	slices.Sort(got)
	if slices.Sort(want); !slices.Equal(got, want) {
		t.Errorf("got fields %q, want %q", got, want)
	}
}
