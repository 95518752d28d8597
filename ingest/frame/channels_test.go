package frame

import (
	"math"
	"testing"
)

// The frames of a barometer have no position. They are taken where that is said, and their values arrive in SI.
func TestFramesOfChannelsAlone(t *testing.T) {
	o := Options{Format: "delimited", Separator: ",", Fields: []string{"address", "ambient_c", "pressure_hpa", "humidity_pct"}}
	if _, err := New(o); err == nil {
		t.Error("got no error for frames without a position, want one unless it is said that they need none")
	}
	o.ChannelsOnly = true
	d, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	d.Feed([]byte("\nA1,21.5,962.25,43\n"), Stamp{})
	var f Frame
	if !d.Next(&f) || f.Refusal != nil {
		t.Fatalf("got %+v, want a frame", f)
	}
	if string(f.Address) != "A1" || f.High.Set || f.Low.Set || math.Abs(f.AmbientTemperature.V.Celsius()-21.5) > 1e-9 ||
		math.Abs(float64(f.AmbientPressure.V)-96225) > 1e-6 || math.Abs(float64(f.AmbientHumidity.V)-0.43) > 1e-12 {
		t.Errorf("got %+v, want 21.5 °C, 96225 Pa and 0.43", f)
	}
}
