package frame_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// bench is the format most tests use.
var bench = frame.Options{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm", "temperature_c"}}

func decoder(t testing.TB, o frame.Options) frame.Decoder {
	t.Helper()
	d, err := frame.New(o)
	if err != nil {
		t.Fatalf("new: %v", err)
	}
	return d
}

// decode feeds the text in one piece after a line end, so that its first line counts, and returns copies of the frames.
func decode(d frame.Decoder, text string) []frame.Frame {
	return append(feed(d, "\n", 0), feed(d, text, 0)...)
}

func feed(d frame.Decoder, text string, at time.Duration) (frames []frame.Frame) {
	d.Feed([]byte(text), frame.Stamp{Mono: at})
	var f frame.Frame
	for d.Next(&f) {
		f.Raw = append([]byte(nil), f.Raw...)
		f.Address = append([]byte(nil), f.Address...)
		frames = append(frames, f)
	}
	return frames
}

// one decodes a single frame.
func one(t *testing.T, o frame.Options, text string) frame.Frame {
	t.Helper()
	frames := decode(decoder(t, o), text)
	if len(frames) != 1 {
		t.Fatalf("%q: got %d frames, want 1", text, len(frames))
	}
	return frames[0]
}

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-12*math.Max(1, math.Abs(want)) }

func TestEveryFieldInItsUnit(t *testing.T) {
	o := frame.Options{Format: "delimited", Separator: ";", Fields: []string{
		"address", "low_mm", "high_mm", "reading", "temperature_c", "tilt_deg", "ambient_c", "pressure_hpa", "humidity_pct", "skip"}}
	f := one(t, o, " A7 ;+110.5; 20.25 mm;1.5e2;-3.5 °C;0.25;21C;962.0hPa;40 %;whatever\r\n")
	if f.Refusal != nil {
		t.Fatalf("refused: %v", f.Refusal)
	}
	if string(f.Address) != "A7" || !f.Addressed {
		t.Errorf("address: got %q (%v), want A7", f.Address, f.Addressed)
	}
	// The unit conversions are exact by definition (BIPM, The International System of Units, 9th edition).
	for _, c := range []struct {
		what      string
		got, want float64
		set       bool
	}{
		{"low, m", float64(f.Low.V), 0.1105, f.Low.Set},
		{"high, m", float64(f.High.V), 0.02025, f.High.Set},
		{"reading", f.Indicated.V, 150, f.Indicated.Set},
		{"temperature, K", float64(f.Temperature.V), 269.65, f.Temperature.Set},
		{"tilt, rad", float64(f.Tilt.V), math.Pi / 720, f.Tilt.Set},
		{"ambient, K", float64(f.AmbientTemperature.V), 294.15, f.AmbientTemperature.Set},
		{"pressure, Pa", float64(f.AmbientPressure.V), 96200, f.AmbientPressure.Set},
		{"humidity", float64(f.AmbientHumidity.V), 0.4, f.AmbientHumidity.Set},
	} {
		if !c.set || !near(c.got, c.want) {
			t.Errorf("%s: got %v (set %v), want %v ± 1e-12", c.what, c.got, c.set, c.want)
		}
	}
}

func TestRefusals(t *testing.T) {
	spaced := frame.Options{Format: "delimited", Separator: "whitespace", Fields: []string{"low_mm", "temperature_c"}}
	semi := frame.Options{Format: "delimited", Separator: ";", Fields: []string{"address", "low_mm"}}
	comma := semi
	comma.Decimal = ","
	sentinel := semi
	sentinel.ErrorWords = []string{"NOLIQ", "-9999"}

	for _, tt := range []struct {
		name    string
		o       frame.Options
		line    string
		code    convert.Cause
		address string // "": not attributed
		says    string
	}{
		{"letter O for zero", bench, "02,15O.2,21.0", convert.FrameNumber, "02", `low-limb position "15O.2" is not a number (field 2 of 3)`},
		{"NaN", bench, "02,NaN,21.0", convert.FrameNumber, "02", `"NaN" is not a number`},
		{"infinity", bench, "02,+Inf,21.0", convert.FrameNumber, "02", "is not a number"},
		{"hexadecimal float", bench, "02,0x1p4,21.0", convert.FrameNumber, "02", "is not a number"},
		{"digit grouping", bench, "02,1_000,21.0", convert.FrameNumber, "02", "is not a number"},
		{"too large", bench, "02,1e999,21.0", convert.FrameNumber, "02", "too large"},
		{"too large, minus", bench, "02,-1e999,21.0", convert.FrameNumber, "02", "too large"},
		{"endless exponent", bench, "02,1e99999,21.0", convert.FrameNumber, "02", "is not a number"},
		{"endless number", bench, "02," + strings.Repeat("1", 65) + ",21.0", convert.FrameNumber, "02", "(65 bytes)"},
		{"two points", bench, "02,1.1.1,21.0", convert.FrameNumber, "02", "is not a number"},
		{"sign alone", bench, "02,-,21.0", convert.FrameNumber, "02", "is not a number"},
		{"point alone", bench, "02,.,21.0", convert.FrameNumber, "02", "is not a number"},
		{"Arabic-Indic digit", bench, "02,١,21.0", convert.FrameNumber, "02", "is not a number"},
		{"other unit", bench, "02,11.05cm,21.0", convert.FrameNumber, "02", "only mm as unit"},
		{"other temperature unit", bench, "02,11.05,70F", convert.FrameNumber, "02", "liquid temperature"},
		{"empty position", bench, "02,,21.0", convert.FrameFields, "02", "low-limb position is empty (field 2 of 3)"},
		{"blank position", bench, "02,  ,21.0", convert.FrameFields, "02", "low-limb position is empty (field 2 of 3)"},
		{"empty address", bench, ",110.5,21.0", convert.FrameFields, "", "address is empty"},
		{"field missing", bench, "02,110.5", convert.FrameFields, "02", "has 2 fields; allowed: 3 fields"},
		{"field too many", bench, "02,110.5,21.0,7", convert.FrameFields, "02", "has 4 fields"},
		{"decimal comma among commas", bench, "02,110,5,21,0", convert.FrameFields, "02", "decimal comma need another separator"},
		{"decimal comma not stated", semi, "02;110,5", convert.FrameNumber, "02", "has a decimal comma, and a point is configured"},
		{"decimal point where a comma is stated", comma, "02;110.5", convert.FrameNumber, "02", "has a decimal point, and a comma is configured"},
		{"grouping point", comma, "02;1.110,5", convert.FrameNumber, "02", "decimal point"},
		{"NUL in the number", bench, "02,1\x003.4,21.0", convert.FrameNUL, "02", "parity"},
		{"NUL in front", bench, "\x0002,13.4,21.0", convert.FrameNUL, "\x0002", "NUL"},
		{"word", bench, "02,OVER,21.0", convert.FrameErrorWord, "02", `"OVER" stands for no value (field 2 of 3)`},
		{"word in lower case", bench, "02,110.5,err", convert.FrameErrorWord, "02", "liquid temperature"},
		{"dashes", bench, "02,----,21.0", convert.FrameErrorWord, "02", "no value"},
		{"dashes with a point", bench, "02,--.-,21.0", convert.FrameErrorWord, "02", "no value"},
		{"configured word", sentinel, "02;noliq", convert.FrameErrorWord, "02", "no value"},
		{"configured number", sentinel, "02;-9999", convert.FrameErrorWord, "02", "no value"},
		{"no address in the format", spaced, "x 21.0", convert.FrameNumber, "none", "field 1 of 2"},
		{"blank line", bench, "   ", convert.FrameFields, "", "has 1 field;"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			f := one(t, tt.o, tt.line+"\r\n")
			if f.Refusal == nil {
				t.Fatalf("%q was taken: low %v", tt.line, f.Low)
			}
			if f.Refusal.Code != tt.code || !strings.Contains(f.Refusal.Error(), tt.says) {
				t.Errorf("got %s: %v\nwant %s saying %q", f.Refusal.Code, f.Refusal, tt.code, tt.says)
			}
			if want := strings.TrimPrefix(tt.address, "none"); string(f.Address) != want || f.Addressed != (tt.address != "") {
				t.Errorf("address: got %q (%v), want %q", f.Address, f.Addressed, want)
			}
			if f.Low.Set || f.High.Set || f.Temperature.Set || f.Indicated.Set {
				t.Errorf("a refused frame carries values: %+v", f)
			}
			if string(f.Raw) != tt.line {
				t.Errorf("raw: got %q, want %q", f.Raw, tt.line)
			}
		})
	}
}

func TestSeparators(t *testing.T) {
	fields := []string{"address", "low_mm", "temperature_c"}
	for _, tt := range []struct{ separator, line string }{
		{",", "02,110.5,21.0"}, {";", "02 ; 110.5 ; 21.0"}, {"\t", "02\t110.5\t21.0"}, {"|", "02|110.5|21.0"}, {", ", "02, 110.5, 21.0"},
		{"whitespace", "  02 110.5\t 21.0 "}, {" ", "02   110.5 21.0"}, {"::", "02::110.5::21.0"},
	} {
		f := one(t, frame.Options{Format: "delimited", Separator: tt.separator, Fields: fields}, tt.line+"\n")
		if f.Refusal != nil || string(f.Address) != "02" || f.Low.V.Millimetres() != 110.5 {
			t.Errorf("separator %q: got %q, %v mm, %v; want 02, 110.5 mm", tt.separator, f.Address, f.Low.V.Millimetres(), f.Refusal)
		}
	}
}

func TestDecimalComma(t *testing.T) {
	f := one(t, frame.Options{Format: "delimited", Separator: ";", Decimal: ",", Fields: []string{"low_mm", "reading"}, ReadingUnit: "Pa"},
		"110,5 mm;1234,25 Pa\r")
	if f.Refusal != nil || !near(f.Low.V.Millimetres(), 110.5) || f.Indicated.V != 1234.25 || !f.Addressed {
		t.Errorf("got %v mm, %v, %v; want 110.5 mm, 1234.25", f.Low.V.Millimetres(), f.Indicated.V, f.Refusal)
	}
}

func TestNewReportsEveryProblem(t *testing.T) {
	_, err := frame.New(frame.Options{Format: "delimited", Separator: "", Fields: []string{"low", "skip", "skip", "temperature_c", "temperature_c"},
		MaxGap: -1, ErrorWords: []string{" "}})
	if err == nil {
		t.Fatal("got no error")
	}
	for _, want := range []string{"separator: missing", `"low" is not known`, `"temperature_c" stands twice`, "no position", "negative", "error_words"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q is not in:\n%v", want, err)
		}
	}
	for _, o := range []frame.Options{
		{Format: "delimeted", Separator: ",", Fields: []string{"low_mm"}},
		{Format: "delimited", Separator: ",", Decimal: ",", Fields: []string{"low_mm"}},
		{Format: "delimited", Separator: "\n", Fields: []string{"low_mm"}},
		{Format: "delimited", Separator: ".", Fields: []string{"low_mm"}},
	} {
		if _, err := frame.New(o); err == nil {
			t.Errorf("%+v: got no error", o)
		}
	}
}
