package assemble

import (
	"math"
	"strings"
	"testing"

	"manobridge/configs"
	"manobridge/convert"
)

func signalOptions(t *testing.T, more string, with ...func(*configs.Instrument)) (convert.Options, *configs.Instrument) {
	t.Helper()
	k := kinds["inclined-reservoir"]
	c, err := configs.Parse("hall", []byte(strings.Replace(hall, "%s", "  it:\n"+k.block+"    offline: true\n"+more, 1)), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range with {
		f(&c.Instruments[0])
	}
	o, err := Options(c, &c.Instruments[0])
	if err != nil {
		t.Fatal(err)
	}
	return o, &c.Instruments[0]
}

// Each block of signal becomes what works it out: by hand, 12 mA of 4 to 20 mA over 0 to 500 mm are 250 mm; 100 mm under a
// sensor level with 640 mm are 540 mm; row 500 of marks in rows 900 at 0 mm and 100 at 200 mm is 100 mm, plus the offset.
func TestSignalsOfEachUnit(t *testing.T) {
	for name, c := range map[string]struct {
		block  string
		signal float64
		camera *convert.Camera
		want   float64 // mm
	}{
		"ma":     {"{unit: ma, points: [[4, 0], [20, 500]], u_mm: 0.3}", 12, nil, 250},
		"v":      {"{unit: v, points: [[0, 500], [5, 0]], u_mm: 0.3}", 4, nil, 100},
		"counts": {"{unit: counts, points: [[0, 0], [1000, 500]], u_mm: 0.3}", 3, nil, 1.5},
		"distance_mm": {"{unit: distance_mm, reference_mm: 640, blanking_mm: 50, farthest_mm: 700, u_mm: 0.3}", 100, nil,
			540},
		"px": {"{unit: px, fiducials_mm: [0, 200], fiducial_u_mm: 0.05, fiducial_u_px: 0.1, row_u_px: 0.2, edge: crown, meniscus_offset_mm: -0.8, meniscus_offset_u_mm: 0.1}",
			500, &convert.Camera{Fiducials: [4]convert.Optional[float64]{convert.Some(900.0), convert.Some(100.0)}}, 99.2},
	} {
		o, in := signalOptions(t, "    meniscus: bottom\n    signal: {low: "+c.block+"}\n")
		s, err := Signals(in)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		at, extra, _, refusal := s.Low.Position("low-limb", c.signal, c.camera)
		if refusal != nil || math.Abs(at.Millimetres()-c.want) > 1e-9 || extra.U <= 0 {
			t.Errorf("%s: got %v mm with u %v mm, %v, want %v mm", name, at.Millimetres(), extra.U.Millimetres(), refusal, c.want)
		}
		if o.U.Low.Extra == nil || o.U.Low.Extra.Typical.U <= 0 || o.U.High.Extra != nil {
			t.Errorf("%s: got extras %v and %v, want one for the low limb", name, o.U.Low.Extra, o.U.High.Extra)
		}
	}
}

// Averaging brings an uncertainty with each result, so the input is there; without either there is none.
func TestExtraOnlyWhereOneComes(t *testing.T) {
	if o, _ := signalOptions(t, ""); o.U.Low.Extra != nil {
		t.Errorf("got %v, want none", o.U.Low.Extra)
	}
	o, _ := signalOptions(t, "", func(in *configs.Instrument) { in.Average = &configs.Average{} })
	if o.U.Low.Extra == nil || o.U.Low.Extra.Typical != (convert.Extra{}) {
		t.Errorf("got %v, want an input that adds nothing to a budget", o.U.Low.Extra)
	}
}

// A zero of unstated uncertainty was taken through the same signal: 0.4 mm of the scale and 0.3 mm of the signal are
// 0.5 mm. A stated one stays.
func TestZeroGoesThroughTheSignal(t *testing.T) {
	const signal = "    signal: {low: {unit: ma, points: [[4, 0], [20, 500]], u_mm: 0.3}}\n"
	for more, want := range map[string]float64{"": 0.5, ", zero_mm: 0.05": 0.05} {
		o, _ := signalOptions(t, signal+"    uncertainty: {position_mm: 0.4"+more+"}\n")
		if got := o.U.Low.Zero.U.Millimetres(); math.Abs(got-want) > 1e-9 {
			t.Errorf("zero_mm %q: got %v mm, want %v mm", more, got, want)
		}
	}
}
