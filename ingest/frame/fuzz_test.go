package frame_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/ingest/frame"
)

// FuzzDecoder sends anything, cut anywhere. It must not panic, must stay within its bounds, must give a frame either a
// refusal or finite positions, and must find the good frame after the rubbish.
func FuzzDecoder(f *testing.F) {
	for _, seed := range []string{
		"02,110.5,21.0\r\n", "\x00\x00\n", ",,,\n", "02,1e999,0x1p4\n", "02;1,5;2,5\r", "  02  110.5 21.0  \n", "02,----,OVER\n", "\xff\xfe\r\n\r\n",
	} {
		f.Add([]byte(seed), byte(0), byte(3))
	}
	for i, n := range []int{frame.MaxLength - 1, frame.MaxLength, frame.MaxLength + 1, 3 * frame.MaxLength} { // about the bound
		f.Add([]byte("\r\n"+strings.Repeat("7", n)+"\r\n"), byte(i), byte(60))
	}
	inputs, err := filepath.Glob(captures + "/*/input.raw")
	if err != nil {
		f.Fatal(err)
	}
	for i, path := range inputs {
		b, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, byte(i), byte(40))
	}
	formats := []frame.Options{
		bench,
		{Format: "delimited", Separator: "whitespace", Fields: []string{"low_mm", "temperature_c"}},
		{Format: "delimited", Separator: ";", Decimal: ",", Fields: []string{"skip", "address", "reading"}, ErrorWords: []string{"-9999"}},
		{Format: "delimited", Separator: ",", Fields: []string{"address", "low_mm", "temperature_c"}, Terminator: "crlf", HeaderLines: 3},
	}
	good := []string{"\n02,110.5,21.0\n", "\n110.5 21.0\n", "\nx;02;110,5\n", "\r\n02,110.5,21.0\r\n"}
	f.Fuzz(func(t *testing.T, data []byte, format, step byte) {
		k := int(format) % len(formats)
		d := decoder(t, formats[k])
		var fr frame.Frame
		look := func() {
			if len(fr.Raw) > frame.MaxLength {
				t.Fatalf("a frame of %d bytes", len(fr.Raw))
			}
			for _, v := range []float64{float64(fr.Low.V), float64(fr.High.V), fr.Indicated.V, float64(fr.Temperature.V)} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%q gave %v", fr.Raw, v)
				}
			}
			if fr.Refusal != nil && (fr.Low.Set || fr.High.Set || fr.Indicated.Set) {
				t.Fatalf("%q is refused and has a position", fr.Raw)
			}
		}
		size := int(step)%64 + 1
		for i := 0; i < len(data); i += size {
			d.Feed(data[i:min(i+size, len(data))], frame.Stamp{Mono: time.Duration(i) * time.Millisecond})
			for d.Next(&fr) {
				look()
			}
		}
		found := false
		d.Feed([]byte(good[k]), frame.Stamp{Mono: time.Duration(len(data)) * time.Millisecond})
		for d.Next(&fr) {
			look()
			found = fr.Refusal == nil
		}
		if !found {
			t.Fatalf("the good frame after %q was not found", data)
		}
	})
}
