package frame_test

import (
	"fmt"
	"strings"
	"testing"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// The formats beside delimited.
var (
	patterned = frame.Options{Format: "pattern", Pattern: `Ch(?P<address>\w+): +(?P<low_mm>\S+) mm(?: T=(?P<temperature_c>\S*))?`}
	objects   = frame.Options{Format: "json-lines", Keys: map[string]string{"id": "address", "edge.low": "low_mm", "t": "temperature_c"}}
	sentences = frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"COLUMN": "low_mm", "LIQUID": "temperature_c"}, TalkerAddress: true}
)

// nmea closes a sentence with its check value: the exclusive or of everything between $ and * (NMEA 0183).
func nmea(body string) string {
	var x byte
	for i := range len(body) {
		x ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X", body, x)
}

func TestOtherFormats(t *testing.T) {
	for _, tt := range []struct {
		o       frame.Options
		line    string
		code    convert.Cause
		address string // "": not attributed
		says    string
	}{
		{patterned, "ChA1:   110.5 mm T=21.0", "", "A1", ""},
		{patterned, "ChA1: 110.5 mm", convert.FrameFields, "A1", "liquid temperature is empty"},
		{patterned, "ChA1: 110.5 mm T=OVER", convert.FrameErrorWord, "A1", "liquid temperature"},
		{patterned, "ChA1: 11O.5 mm T=21.0", convert.FrameNumber, "A1", `"11O.5" is not a number (at "low_mm")`},
		{patterned, "xChA1: 110.5 mm T=21.0", convert.FrameFormat, "", "does not match"},
		{patterned, "ChA1: 110.5 mm T=21.0 ChA2", convert.FrameFormat, "", "does not match"},

		{objects, `{"t":21.0,"id":"A1","edge":{"low":110.5,"score":97},"all":[1,{"id":"x"}],"note":null}`, "", "A1", ""},
		{objects, `{"id":"A1","edge":{"low":"110.5 mm"},"t":2.1e1}`, "", "A1", ""},
		{objects, `{"id":7,"edge":{"low":110.5},"t":21}`, "", "7", ""},
		{objects, `{"id":"A1","edge":{"low":null},"t":21.0}`, convert.FrameFields, "A1", "low-limb position is empty"},
		{objects, `{"id":"A1","edge":{"low":"----"},"t":21.0}`, convert.FrameErrorWord, "A1", "no value"},
		{objects, `{"id":"A1","edge":{"low":true},"t":21.0}`, convert.FrameNumber, "A1", `"true" is not a number`},
		{objects, `{"id":"A1","edge":{"low":1e999},"t":21.0}`, convert.FrameNumber, "A1", "too large"},
		{objects, `{"id":"A1","edge":{"low":1},"t":21.0,"t":22.0}`, convert.FrameFormat, "", `"t" stands twice`},
		{objects, `{"id":"A1","edge":{"low":1},"t":21.0,"edge.low":2}`, convert.FrameFormat, "", `"edge.low" stands twice`},
		{objects, `{"id":"A1","edge":{"low":1},"t":21.0`, convert.FrameFormat, "", "ends too early"},
		{objects, `{"id":"A1","edge":{"low":1},"t":21.0}{}`, convert.FrameFormat, "", "follows it"},
		{objects, `{"id":"A1","edge":{"low":NaN},"t":21.0}`, convert.FrameFormat, "", "wrong at character"},
		{objects, `[1]`, convert.FrameFormat, "", "it is no object"},
		{objects, `noise`, convert.FrameFormat, "", "JSON"},

		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN,H,40,P,ROOM"), "", "WI", ""},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,F,COLUMN"), convert.FrameFormat, "WI", `unit "M"`},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105mm,M,COLUMN"), convert.FrameNumber, "WI", "not a number"},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,,M,COLUMN"), convert.FrameFields, "WI", "empty"},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID"), convert.FrameFields, "WI", `no transducer "COLUMN"`},
		{sentences, nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN,D,0.2,M,COLUMN"), convert.FrameFormat, "WI", "twice"},
		{sentences, nmea("WIXDR,C,21.0,C"), convert.FrameFields, "WI", "groups of four"},
		{sentences, "$WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN*00", convert.FrameChecksum, "", "carries 00"},
		{sentences, "$WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN", convert.FrameChecksum, "", "does not end"},
	} {
		t.Run(tt.o.Format+" "+tt.line, func(t *testing.T) {
			f := one(t, tt.o, tt.line+"\r\n")
			var code convert.Cause
			says := ""
			if f.Refusal != nil {
				code, says = f.Refusal.Code, f.Refusal.Error()
			}
			if code != tt.code || !strings.Contains(says, tt.says) {
				t.Fatalf("got %q: %s\nwant %q saying %q", code, says, tt.code, tt.says)
			}
			if string(f.Address) != tt.address || f.Addressed != (tt.address != "") {
				t.Errorf("address: got %q (%v), want %q", f.Address, f.Addressed, tt.address)
			}
			if string(f.Raw) != tt.line {
				t.Errorf("raw: got %q, want the line", f.Raw)
			}
			if code == "" && (!near(float64(f.Low.V), 0.1105) || !near(f.Temperature.V.Celsius(), 21)) {
				t.Errorf("got %v m, %v °C, want 0.1105 m, 21 °C", f.Low.V, f.Temperature.V.Celsius())
			}
			if code != "" && (f.Low.Set || f.Temperature.Set) {
				t.Errorf("a refused frame carries values: %+v", f)
			}
		})
	}
}

// The example of an XDR sentence in the GPSD project's "NMEA Revealed", whose check value is printed there; and pressure
// in either unit (1 bar = 1000 hPa, exact).
func TestXDRSentences(t *testing.T) {
	o := frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"PITCH": "tilt_deg", "MAGX": "reading"}}
	f := one(t, o, "$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,MAGZ*41\r\n")
	if f.Refusal != nil || !near(f.Tilt.V.Degrees(), 171) || f.Indicated.V != 367 || !f.Addressed {
		t.Errorf("got %v°, %v, %v; want 171°, 367", f.Tilt.V.Degrees(), f.Indicated.V, f.Refusal)
	}
	o = frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"C": "low_mm", "A": "pressure_hpa"}}
	for _, air := range []string{"P,0.96225,B,A", "P,96225,P,A"} {
		f := one(t, o, nmea("WIXDR,D,0.0042,M,C,"+air)+"\r\n")
		if f.Refusal != nil || !near(float64(f.AmbientPressure.V), 96225) || !near(f.Low.V.Millimetres(), 4.2) {
			t.Errorf("%s: got %v Pa, %v mm, %v; want 96225 Pa, 4.2 mm", air, f.AmbientPressure.V, f.Low.V.Millimetres(), f.Refusal)
		}
	}
}

// Other sentences on the line are no trouble of ours.
func TestOtherSentencesArePassedOver(t *testing.T) {
	d := decoder(t, sentences)
	other := nmea("GPZDA,081836.75,30,07,2026,00,00")
	frames := decode(d, other+"\r\n"+nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN")+"\r\n")
	if len(frames) != 1 || frames[0].Refusal != nil {
		t.Errorf("got %+v, want the one sentence", frames)
	}
	if got, want := d.PassedOver(), uint64(len(other)+1); got != want {
		t.Errorf("passed over: got %d bytes, want %d: the other sentence and the end of the line joined", got, want)
	}
}

func TestFormatsReportTheirProblems(t *testing.T) {
	for _, tt := range []struct {
		o    frame.Options
		says string
	}{
		{frame.Options{Format: "pattern"}, "pattern: missing"},
		{frame.Options{Format: "pattern", Pattern: "("}, "missing closing"},
		{frame.Options{Format: "pattern", Pattern: "(?P<lowmm>x)"}, `"lowmm" is not known`},
		{frame.Options{Format: "json-lines"}, "keys: missing"},
		{frame.Options{Format: "json-lines", Keys: map[string]string{"t": "temperature_c"}}, "no position"},
		{frame.Options{Format: "json-lines", Keys: map[string]string{".t": "low_mm"}}, "is no path"},
		{frame.Options{Format: "nmea-xdr"}, "transducers: missing"},
		{frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"A": "address", "C": "low_mm"}}, "cannot come from a transducer"},
		{frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"C": "low_mm"}, Checksum: frame.Checksum{Name: "xor-8"}}, "part of NMEA 0183"},
		{frame.Options{Format: "nmea-xdr", Transducers: map[string]string{"C": "low_mm"}, Decimal: ","}, "have a point"},
	} {
		if _, err := frame.New(tt.o); err == nil || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%+v: got %v, want %q", tt.o, err, tt.says)
		}
	}
}

func FuzzFormats(f *testing.F) {
	f.Add([]byte(`{"id":"A1","edge":{"low":110.5},"t":21}`), byte(1))
	f.Add([]byte("ChA1: 110.5 mm T=21.0"), byte(0))
	f.Add([]byte(nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN")), byte(2))
	f.Add([]byte(strings.Repeat(`{"a":`, 90)), byte(1))
	formats := []frame.Options{patterned, objects, sentences}
	f.Fuzz(func(t *testing.T, data []byte, format byte) {
		d := decoder(t, formats[int(format)%len(formats)])
		for _, fr := range decode(d, string(data)+"\n") {
			if len(fr.Raw) > frame.MaxLength {
				t.Fatalf("a frame of %d bytes", len(fr.Raw))
			}
			if fr.Refusal == nil && !(fr.Low.Set && fr.Temperature.Set && fr.Addressed) {
				t.Fatalf("%q is neither refused nor whole: %+v", fr.Raw, fr)
			}
			if fr.Refusal != nil && (fr.Low.Set || fr.Temperature.Set) {
				t.Fatalf("%q is refused and has values", fr.Raw)
			}
		}
	})
}

// The check value leaves out the first character (NMEA 0183), so it fits a sentence that lost its start. That is no other
// sentence to be passed over in silence.
func TestSentenceWithoutItsStart(t *testing.T) {
	good := nmea("WIXDR,C,21.0,C,LIQUID,D,0.1105,M,COLUMN")
	if f := one(t, sentences, "\xa4"+good[1:]+"\r\n"); f.Refusal == nil || f.Refusal.Code != convert.FrameFormat || f.Addressed {
		t.Errorf("got %+v, want a refusal for the form, of nobody's", f)
	}
}
