package bridge_test

import (
	"fmt"
	"log/slog"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/serialport"
)

// TestEveryFrameKeyIsMapped changes one key of a frame at a time and wants the decoder's options to change with it.
func TestEveryFrameKeyIsMapped(t *testing.T) {
	base := func() configs.Frame {
		scale := 1.0
		return configs.Frame{Checksum: &configs.Checksum{}, Keys: &configs.Members{},
			Binary: &configs.Binary{Fields: []configs.BinaryField{{Scale: &scale}}}}
	}
	was := base()
	before := bridge.FrameOptions(&was)
	tried := 0
	var visit func(typ reflect.Type, path string, get func(reflect.Value) reflect.Value)
	visit = func(typ reflect.Type, path string, get func(reflect.Value) reflect.Value) {
		switch {
		case typ.Kind() == reflect.Pointer:
			visit(typ.Elem(), path, func(v reflect.Value) reflect.Value { return get(v).Elem() })
			return
		case typ.Kind() == reflect.Struct:
			for i := range typ.NumField() {
				visit(typ.Field(i).Type, path+"."+typ.Field(i).Tag.Get("yaml"), func(v reflect.Value) reflect.Value { return get(v).Field(i) })
			}
			return
		case typ.Kind() == reflect.Slice && typ.Elem().Kind() == reflect.Struct:
			visit(typ.Elem(), path+"[0]", func(v reflect.Value) reflect.Value { return get(v).Index(0) })
			return
		}
		f := base()
		set(t, path, get(reflect.ValueOf(&f).Elem()))
		if tried++; reflect.DeepEqual(before, bridge.FrameOptions(&f)) {
			t.Errorf("frame%s: got the same options whatever it is, want it to reach the decoder", path)
		}
	}
	visit(reflect.TypeFor[configs.Frame](), "", func(v reflect.Value) reflect.Value { return v })
	if tried < 30 {
		t.Errorf("got %d keys tried, want all of the frame", tried)
	}
}

func set(t *testing.T, path string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.String:
		v.SetString("x")
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int64:
		v.SetInt(7)
	case reflect.Float64:
		v.SetFloat(7)
	case reflect.Slice:
		v.Set(reflect.ValueOf([]string{"x"}))
	case reflect.Map:
		v.Set(reflect.ValueOf(map[string]string{"x": "low_mm"}))
	default:
		t.Fatalf("frame%s: got a %s, want the test to know how to change it", path, v.Kind())
	}
}

// TestWordsOfTheDecoders holds the words that the file allows against those the decoders know.
func TestWordsOfTheDecoders(t *testing.T) {
	enum := func(typ reflect.Type, name string) []string {
		f, ok := typ.FieldByName(name)
		if !ok {
			t.Fatalf("got no %s.%s, want it", typ, name)
		}
		return strings.Split(f.Tag.Get("enum"), "|")
	}
	for _, c := range []struct {
		typ       reflect.Type
		name      string
		want, not []string
	}{
		{reflect.TypeFor[configs.Checksum](), "Name", frame.ChecksumNames(), nil},
		{reflect.TypeFor[configs.BinaryChecksum](), "Name", frame.ChecksumNames(), nil},
		{reflect.TypeFor[configs.Frame](), "Format", frame.FormatNames(), nil},
		{reflect.TypeFor[configs.Frame](), "Fields", frame.FieldNames(), nil},
		{reflect.TypeFor[configs.BinaryField](), "Field", frame.FieldNames(), []string{"skip"}},
		{reflect.TypeFor[configs.Frame](), "Transducers", frame.FieldNames(), []string{"skip", "address"}},
	} {
		want := slices.DeleteFunc(c.want, func(w string) bool { return slices.Contains(c.not, w) })
		got := enum(c.typ, c.name)
		slices.Sort(want)
		if slices.Sort(got); !slices.Equal(got, want) {
			t.Errorf("%s.%s: got %q, want %q (the decoders')", c.typ, c.name, got, want)
		}
	}
}

// TestExampleOfOtherFrames decodes the lines that the example's comments show. The check values are worked out here, by
// the definitions: exclusive or between $ and * (NMEA 0183); MODBUS over Serial Line V1.02, section 6.2.2.
func TestExampleOfOtherFrames(t *testing.T) {
	c, err := configs.Load("../../../configs/other-frames.example.yaml", configs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	sentence := "YXXDR,D,0.04127,M,LOW,C,20.4,C,OIL"
	xor := byte(0)
	for _, b := range []byte(sentence) {
		xor ^= b
	}
	bytes := []byte{0xAA, 0x55, 7, 4127 >> 8, 4127 & 0xFF, 0, 204}
	crc := modbus(bytes)
	sent := map[string]struct{ text, address string }{
		"gowning-line":  {"gowning: L= 41.27mm T=20.4C\r\n", ""},
		"filling-line":  {`{"id":"a4","column":{"position":41.27},"oil_c":20.4}` + "\n", "a4"},
		"corridor-line": {fmt.Sprintf("$%s*%02X\r\n", sentence, xor), "YX"},
		"airlock-line":  {string(append(bytes, byte(crc), byte(crc>>8))), "7"},
	}
	if len(c.Ports) != len(sent) {
		t.Fatalf("got %d ports, want %d", len(c.Ports), len(sent))
	}
	for i := range c.Ports {
		p := &c.Ports[i]
		d, err := frame.New(bridge.FrameOptions(&p.Frame))
		if err != nil {
			t.Errorf("%s: got %v, want a decoder", p.Name, err)
			continue
		}
		if err := bridge.Settings(p).Validate(); err != nil {
			t.Errorf("%s: got %v, want settings of a port", p.Name, err)
		}
		s := sent[p.Name]
		// The start of what comes after an opening may be missing, so a line end may go first.
		d.Feed([]byte("\n"+s.text+s.text), frame.Stamp{Wall: time.Unix(0, 0)})
		var f frame.Frame
		if !d.Next(&f) || f.Refusal != nil {
			t.Errorf("%s: got refusal %v of %q, want a frame", p.Name, f.Refusal, s.text)
			continue
		}
		low, oil := f.Low.V.Millimetres(), f.Temperature.V.Celsius()
		if !f.Low.Set || !f.Temperature.Set || low < 41.26999 || low > 41.27001 || oil < 20.39999 || oil > 20.40001 || string(f.Address) != s.address {
			t.Errorf("%s: got %v mm, %v °C from %q, want 41.27, 20.4 from %q", p.Name, low, oil, f.Address, s.address)
		}
	}
}

// modbus is the check value bit by bit.
func modbus(b []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, v := range b {
		crc ^= uint16(v)
		for range 8 {
			if carry := crc & 1; carry == 1 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// A scale reading may have the unit that its scale is engraved in behind it, and no other: 12.5 mbar are not 12.5 mmH2O.
// Where two scales on a line differ, none is taken.
func TestUnitBehindAReading(t *testing.T) {
	c := &configs.Config{
		Ports: []configs.Port{{Name: "rack-a", Frame: configs.Frame{Format: configs.FormatDelimited, Separator: ",", Fields: []string{"address", "reading"}}}},
		Instruments: []configs.Instrument{{Port: "rack-a", Geometry: configs.Geometry{Unit: "mmH2O"}}, {Port: "rack-b", Geometry: configs.Geometry{Unit: "Pa"}},
			{Port: "rack-a"}},
	}
	refused := func(line string) bool {
		_, d, err := bridge.Line(c, &c.Ports[0], serialport.Settings{}, ingest.Clock{}, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		d.Feed([]byte("\n"+line+"\n"), frame.Stamp{})
		var f frame.Frame
		if !d.Next(&f) {
			t.Fatalf("%q: no frame", line)
		}
		return f.Refusal != nil
	}
	for line, want := range map[string]bool{"2,12.5": false, "2,12.5 mmH2O": false, "2,12.5 mbar": true, "2,12.5 Pa": true} {
		if got := refused(line); got != want {
			t.Errorf("%q: got refused %v, want %v", line, got, want)
		}
	}
	c.Instruments[2].Geometry.Unit = "mbar"
	if refused("2,12.5") || !refused("2,12.5 mmH2O") {
		t.Error("two units on a line: got one taken, want numbers without unit alone")
	}
}
