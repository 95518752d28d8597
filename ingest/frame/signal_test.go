package frame

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// sentXDR is how each signal is sent as a transducer: type, unit, and what 12.5 of the field is there.
var sentXDR = map[string][3]string{"v": {"U", "V", "12.5"}, "ma": {"I", "A", "0.0125"}, "distance_mm": {"D", "M", "0.0125"}}

// Every signal arrives under its limb in its own unit, and every field of a camera where it belongs, in each format of text.
func TestSignalsArriveInEveryFormat(t *testing.T) {
	for _, info := range fieldInfos[lowCounts:contact] {
		unit := ""
		for _, limb := range []string{"low_", "high_"} {
			if u, ok := strings.CutPrefix(info.name, limb); ok {
				unit = u
			}
		}
		x, ok := sentXDR[unit]
		if !ok {
			x = [3]string{"G", "", "12.5"}
		}
		body := fmt.Sprintf("IIXDR,%s,%s,%s,IT,D,0.1,M,POS", x[0], x[2], x[1])
		sum := byte(0)
		for _, c := range []byte(body) {
			sum ^= c
		}
		for _, c := range []struct {
			o    Options
			line string
		}{
			{Options{Format: "delimited", Separator: ";", Fields: []string{info.name}, ChannelsOnly: true}, "12.5"},
			{Options{Format: "pattern", Pattern: `R=(?P<` + info.name + `>[0-9.]+)`, ChannelsOnly: true}, "R=12.5"},
			{Options{Format: "json-lines", Keys: map[string]string{"a.b": info.name}, ChannelsOnly: true}, `{"a":{"b":12.5}}`},
			{Options{Format: "nmea-xdr", Transducers: map[string]string{"IT": info.name}, ChannelsOnly: true}, fmt.Sprintf("$%s*%02X", body, sum)},
		} {
			d, err := New(c.o)
			if err != nil {
				t.Fatalf("%s as %s: %v", info.name, c.o.Format, err)
			}
			d.Feed([]byte("\n"+c.line+"\n"), Stamp{Mono: time.Second})
			var f Frame
			if !d.Next(&f) || f.Refusal != nil {
				t.Fatalf("%s as %s: got %v, want a frame", info.name, c.o.Format, f.Refusal)
			}
			got := 0.0
			switch {
			case strings.HasPrefix(info.name, "low_"):
				got = f.LowSignal.V
			case strings.HasPrefix(info.name, "high_"):
				got = f.HighSignal.V
			case f.Camera == nil:
				t.Fatalf("%s as %s: no camera", info.name, c.o.Format)
			case info.name == "score":
				got = f.Camera.Score.V
			case info.name == "edges":
				got = f.Camera.Edges.V
			case info.name == "frame_counter":
				got = f.Camera.Counter.V
			default:
				got = f.Camera.Fiducials[info.name[len("fiducial_")]-'1'].V
			}
			if got != 12.5 {
				t.Errorf("%s as %s: got %v, want 12.5", info.name, c.o.Format, got)
			}
		}
	}
}

// A signal counts as the position of its limb, and a limb has one.
func TestOneSignalALimb(t *testing.T) {
	if _, err := New(Options{Format: "delimited", Separator: ";", Fields: []string{"low_counts", "high_px"}}); err != nil {
		t.Errorf("two limbs: %v", err)
	}
	_, err := New(Options{Format: "delimited", Separator: ";", Fields: []string{"low_counts", "low_px"}})
	if err == nil || !strings.Contains(err.Error(), "second signal of its limb") {
		t.Errorf("got %v, want a second signal refused", err)
	}
	if _, err = New(Options{Format: "delimited", Separator: ";", Fields: []string{"score", "frame_counter"}}); err == nil {
		t.Errorf("a frame with neither position nor signal was taken")
	}
}

// A refused frame holds no signal either.
func TestRefusedFrameHasNoSignal(t *testing.T) {
	d, err := New(Options{Format: "delimited", Separator: ";", Fields: []string{"low_px", "fiducial_1_px", "score"}})
	if err != nil {
		t.Fatal(err)
	}
	d.Feed([]byte("\n400.5;88;ERR\n"), Stamp{})
	var f Frame
	if !d.Next(&f) || f.Refusal == nil || f.LowSignal.Set || f.Camera != nil {
		t.Errorf("got %+v, want a refusal and no signal", f)
	}
}

// A fiducial mark that the module did not find leaves the rest of the image as good as it was; a row that it did not find
// does not.
func TestLostFiducialIsNoRefusal(t *testing.T) {
	for _, c := range []struct {
		o    Options
		line string
	}{
		{Options{Format: "delimited", Separator: ";", Fields: []string{"low_px", "fiducial_1_px", "fiducial_2_px"}}, "400.5;;12"},
		{Options{Format: "delimited", Separator: ";", Fields: []string{"low_px", "fiducial_1_px", "fiducial_2_px"}}, "400.5;----;12"},
		{Options{Format: "json-lines", Keys: map[string]string{"r": "low_px", "a": "fiducial_1_px", "b": "fiducial_2_px"}}, `{"r":400.5,"a":null,"b":12}`},
	} {
		d, err := New(c.o)
		if err != nil {
			t.Fatal(err)
		}
		d.Feed([]byte("\n"+c.line+"\n"), Stamp{})
		var f Frame
		if !d.Next(&f) || f.Refusal != nil || f.LowSignal.V != 400.5 || f.Camera == nil || f.Camera.Fiducials[0].Set || f.Camera.Fiducials[1].V != 12 {
			t.Errorf("%s: got %+v, refusal %v, want row 400.5, fiducial 1 lost, fiducial 2 at 12", c.line, f, f.Refusal)
		}
	}
	d, err := New(Options{Format: "delimited", Separator: ";", Fields: []string{"low_px", "fiducial_1_px"}})
	if err != nil {
		t.Fatal(err)
	}
	d.Feed([]byte("\n;12\n12;x\n"), Stamp{})
	var f Frame
	for d.Next(&f) {
		if f.Refusal == nil {
			t.Errorf("%q was taken", f.Raw)
		}
	}
}
