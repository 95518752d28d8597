package frame_test

import (
	"strings"
	"testing"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

func TestCheckedLines(t *testing.T) {
	star := bench
	star.Checksum = frame.Checksum{Name: "xor-8", Marker: "*", Skip: 1}
	star.Fields = []string{"skip", "low_mm", "temperature_c"}
	crc := frame.Options{Format: "delimited", Separator: ";", Fields: []string{"address", "low_mm"}}
	crc.Checksum = frame.Checksum{Name: "crc-16/modbus", Marker: ";", CoversMarker: true, LowByteFirst: true}
	bare := frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm"}}
	bare.Checksum = frame.Checksum{Name: "sum-8"}

	for _, tt := range []struct {
		name string
		o    frame.Options
		line string
		code convert.Cause
	}{
		// By hand: "A,1,2" is 41 2C 31 2C 32, exclusive or 41^31^32 = 42 hexadecimal.
		{"fits", star, "$A,1,2*42", ""},
		{"digit changed", star, "$A,1,3*42", convert.FrameChecksum},
		{"no digits", star, "$A,1,2", convert.FrameChecksum},
		{"not digits", star, "$A,1,2*4x", convert.FrameChecksum},
		{"only digits", star, "42", convert.FrameChecksum},
		{"fits, and no number in it", star, "$A,1,z*0A", convert.FrameNumber},
		// By hand: "2,5" is 32+2C+35 = 93 hexadecimal.
		{"no marker", bare, "2,593", ""},
		{"lower case is no matter", bare, "2,x5" + "0b", convert.FrameNumber}, // 32+2C+78+35 = 10B
		// 9016 hexadecimal by the shift-and-subtract program of the Modbus over serial line specification, V1.02, 6.2.2.
		{"low byte first", crc, "02;110.5;1690", ""},
		{"high byte first", crc, "02;110.5;9016", convert.FrameChecksum},
		{"empty", crc, "02;110.5;", convert.FrameChecksum},
	} {
		t.Run(tt.name, func(t *testing.T) {
			f := one(t, tt.o, tt.line+"\n")
			var code convert.Cause
			if f.Refusal != nil {
				code = f.Refusal.Code
			}
			if code != tt.code || string(f.Raw) != tt.line {
				t.Errorf("got %q, code %q (%v), want code %q and the whole line kept", f.Raw, code, f.Refusal, tt.code)
			}
			if code == convert.FrameChecksum && len(f.Address) > 0 {
				t.Errorf("attributed to %q, whose address was not checked", f.Address)
			}
		})
	}
}

func TestChecksumRuleIsChecked(t *testing.T) {
	o := bench
	o.Checksum = frame.Checksum{Name: "ccitt", Marker: "a", Skip: -1}
	_, err := frame.New(o)
	for _, want := range []string{"several that differ", "checksum.marker", "checksum.skip"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want it to say %q", err, want)
		}
	}
}
