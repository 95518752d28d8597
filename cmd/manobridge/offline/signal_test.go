package offline

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
)

const signalBench = `
site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.0005}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
instruments:
  duct:
    offline: true
    liquid: water
    geometry: {kind: u-tube, bore_mm: 12, scale_mm: [0, 600]}
    zero: {low_mm: 300, temperature_c: 20}
    signal: {low: {unit: counts, points: [[1000, 0], [11000, 600]], u_mm: 0.5}}
  hood:
    offline: true
    liquid: water
    geometry: {kind: u-tube, bore_mm: 12, scale_mm: [0, 600]}
    zero: {low_mm: 300, temperature_c: 20}
    signal: {low: {unit: px, fiducials_mm: [0, 600], fiducial_u_mm: 0.1, fiducial_u_px: 0.3, row_u_px: 0.5}}
  plain:
    offline: true
    liquid: water
    geometry: {kind: u-tube, bore_mm: 12, scale_mm: [0, 600]}
    zero: {low_mm: 300, temperature_c: 20}
`

// Rows hold what a digitizer sent, in columns of its unit, or a position in mm, not both; a column of another instrument's
// signal is refused. By hand: 0.06 mm a count, so 6000 counts are 300 mm, where both tubes read zero; 600 mm in 1200 rows,
// so row 700 of marks in rows 1300 and 100 is 300 mm too.
func TestRowsOfSignals(t *testing.T) {
	c, err := configs.Parse("bench", []byte(signalBench), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	converters := map[string]*convert.Converter{}
	for i := range c.Instruments {
		if converters[c.Instruments[i].Name], err = assemble.Converter(c, &c.Instruments[i]); err != nil {
			t.Fatal(err)
		}
	}
	const header = "instrument,low_mm,low_counts,low_px,fiducial_1_px,fiducial_2_px,frame_counter,temperature_c\n"
	cases := []struct {
		row  string
		want convert.Cause
	}{
		{"duct,,6000,,,,,20", ""},
		{"duct,300,,,,,,20", ""},
		{"hood,,,700,1300,100,1,20", ""},
		{"hood,,,700,1300,100,1,20", convert.ImageFrozen},
		{"hood,,,700,1300,,2,20", convert.FiducialsFew},
		{"duct,,11001,,,,,20", convert.SignalOffPoints},
		{"duct,300,6000,,,,,20", convert.FrameFields},
		{"hood,,6000,,,,,20", convert.FrameFields},
		{"plain,,6000,,,,,20", convert.FrameFields},
		{"plain,300,,,,,,20", ""},
		{"duct,,,,,,,20", convert.PositionMissing},
	}
	text := header
	for _, one := range cases {
		text += one.row + "\n"
	}
	r, err := NewReader(strings.NewReader(text), converters)
	if err != nil {
		t.Fatal(err)
	}
	signals, err := SignalsOf(c)
	if err != nil {
		t.Fatal(err)
	}
	r.WithSignals(signals)
	var u []float64
	for _, one := range cases {
		row, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		got := convert.Cause("")
		if row.Result.Refusal != nil {
			got = row.Result.Refusal.Code
		}
		if got != one.want {
			t.Errorf("%s: got %q (%v), want %q", one.row, got, row.Result.Refusal, one.want)
		}
		if p, ok := row.Result.Pressure(); ok && math.Abs(p) > 1e-6 {
			t.Errorf("%s: got %v Pa, want 0 ± 1e-6 at the zero", one.row, p)
		}
		u = append(u, row.Result.CombinedU)
	}
	if u[0] != u[1] || !(u[0] > u[9]) {
		t.Errorf("got u %v Pa from counts, %v Pa from mm, %v Pa without a signal; want the first two equal, and more than the last", u[0], u[1], u[9])
	}
	if _, err := r.Next(); !errors.Is(err, io.EOF) {
		t.Errorf("got %v after the last row, want %v", err, io.EOF)
	}
}
