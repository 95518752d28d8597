package bridge_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/bridge"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/position"
	"manobridge/ingest/frame"
	"manobridge/ingest/ingesttest"
)

// signalConfig is a bench of two equal tubes: one digitized in counts, one by a camera with four marks.
func signalConfig(t *testing.T, counts, camera, path string) *configs.Config {
	t.Helper()
	tube := `
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
    uncertainty: {position_mm: 0.05, zero_mm: 0.2}
    temperature: {fixed_c: 20.4}`
	text := fmt.Sprintf(`site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
ports:
  rack-a:
    device: %q
    baud: 9600
    frame: {format: delimited, separator: ";", fields: [low_counts]}
    silence: 60s
  rack-b:
    device: %q
    baud: 9600
    frame:
      format: json-lines
      keys: {low_px: row, fiducial_1_px: a, fiducial_2_px: b, fiducial_3_px: c, fiducial_4_px: d, score: score, edges: edges, frame_counter: image}
    silence: 60s
instruments:
  counted:
    port: rack-a%s
    signal: {low: {unit: counts, points: [[1000, 0], [11000, 300]], u_mm: 0.4}}
  seen:
    port: rack-b%s
    signal: {low: {unit: px, fiducials_mm: [0, 100, 200, 300], fiducial_u_mm: 0.05, fiducial_u_px: 0.2, row_u_px: 0.5, min_score: 60}}
journal: {path: %q}
run: {drain: 10s}
`, counts, camera, tube, tube, path)
	c, err := configs.Parse("signals.yaml", []byte(text), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// pinholeRow is the row of a point of the tube at height x m in a camera 0.6 m away from it, level with 0.15 m, that looks
// up by 0.1 rad: its row is center − focal·tan(angle off its axis).
func pinholeRow(x, focal, center float64) float64 {
	return center - focal*math.Tan(math.Atan((x-0.15)/0.6)-0.1)
}

// Counts and images become positions before they are converted: two equal tubes that are read in two ways give the same
// pressure at the same position, whatever the camera does, and each its own uncertainty. What is refused keeps its frame.
func TestSignalsBecomePressures(t *testing.T) {
	counts, camera := ingesttest.NewLine(t), ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, signalConfig(t, counts.Path, camera.Path, path))
	eventually(t, "both ports", func() bool {
		return len(x.b.Sources()) == 2 && x.b.Sources()[0].Stats().Open && x.b.Sources()[1].Stats().Open
	})
	// 1000 counts are 0 mm and 11 000 are 300 mm: 6000 are 150 mm, 7666.5 are 199.995 mm, by hand.
	counts.Send("\n6000\n7666.5\n12000\n")
	view := func(image int, x, focal, center float64, more string) string {
		return fmt.Sprintf(`{"row":%.9f,"a":%.9f,"b":%.9f,"c":%.9f,"d":%.9f,"image":%d%s}`+"\n", pinholeRow(x, focal, center), pinholeRow(0, focal, center),
			pinholeRow(0.1, focal, center), pinholeRow(0.2, focal, center), pinholeRow(0.3, focal, center), image, more)
	}
	const well = `,"score":88,"edges":1`
	lostOne := strings.Replace(view(5, 0.15, 1800, 1500, well), `"b":`, `"b":null,"was":`, 1)
	camera.Send("\n" + view(1, 0.15, 1800, 1500, well) + view(2, 0.15, 1500, 1560, well) + // shifted and zoomed
		view(2, 0.15, 1500, 1560, well) + // the same image again
		view(3, 0.15, 1800, 1500, `,"score":41,"edges":1`) + view(4, 0.15, 1800, 1500, `,"score":88,"edges":2`) + lostOne)
	eventually(t, "every result", func() bool { return x.b.Counts().Readings == 9 })
	x.end()

	type seen struct {
		cause convert.Cause
		row   convert.Result
	}
	got := map[string][]seen{}
	for _, row := range rows(t, path) {
		cause := convert.Cause("")
		if len(row.Causes) > 0 {
			cause = row.Causes[0]
		}
		if len(row.Frame) == 0 {
			t.Errorf("%s %d: got no raw frame", row.Instrument, row.Seq)
		}
		got[row.Instrument] = append(got[row.Instrument], seen{cause, row.Result})
	}
	want := map[string][]convert.Cause{
		"counted": {"", "", convert.SignalOffPoints},
		"seen":    {"", "", convert.ImageFrozen, convert.ScoreLow, convert.EdgesNotOne, convert.FiducialLost},
	}
	for name, causes := range want {
		if len(got[name]) != len(causes) {
			t.Fatalf("%s: got %d rows, want %d", name, len(got[name]), len(causes))
		}
		for i, cause := range causes {
			row := got[name][i].row
			_, ok := row.Pressure()
			if good := cause == "" || cause == convert.FiducialLost; got[name][i].cause != cause || ok != good || good != (row.Status == convert.Good) {
				t.Errorf("%s %d: got %v, %q with pressure %v, want %q", name, i+1, row.Status, got[name][i].cause, ok, cause)
			}
		}
	}
	first, second := got["counted"][0].row, got["counted"][1].row
	p, _ := first.Pressure()
	q, _ := second.Pressure()
	for _, at := range []int{0, 1, 5} {
		if math.Abs(float64(got["seen"][at].row.Differential)-p) > 1e-6*p {
			t.Errorf("image %d: got %v Pa, want %v Pa ± 1e-6, as of the counts", at+1, float64(got["seen"][at].row.Differential), p)
		}
	}
	// All else is equal, so the variances differ by those of the two signals, each times the slope, here by the second
	// reading: (Δp/Δx)². The counts add 0.4 mm.
	slope := (q - p) / 0.049995
	image := got["seen"][0].row
	added := math.Sqrt((image.CombinedU*image.CombinedU-first.CombinedU*first.CombinedU)/(slope*slope) + 0.4e-3*0.4e-3)
	// 0.5 px of the meniscus alone are 0.5·0.6/1800 m, a little less where the camera looks up; the marks add a part of
	// (0.05 mm)² + (0.2 px)² each.
	if alone := 0.5 * 0.6 / 1800; added < 0.95*alone || added > 1.3*alone {
		t.Errorf("got %.4f mm added by the image, want between %.4f and %.4f mm", added*1000, 950*alone, 1300*alone)
	}
}

// The lines that the example of signals shows are read by the frames it states, and worked out by its blocks: by hand,
// 640 mm less 183.2 mm are 456.8 mm; 11.374 mA lie (11.374 − 8.01)/4.02 of the way from 149.6 to 300.2 mm, at 275.624 mm.
func TestExampleOfSignals(t *testing.T) {
	c, err := configs.Load("../../../configs/signals.example.yaml", configs.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]struct {
		line string
		mm   float64
	}{"fan-inlet": {"d=183.2mm T=21.3", 456.8}, "header": {"11.374;21.2", 149.6 + 150.6*(11.374-8.01)/4.02}} {
		in := assemble.Instrument(c, name)
		d, err := frame.New(bridge.FrameOptions(&assemble.Port(c, in).Frame))
		if err != nil {
			t.Fatal(err)
		}
		d.Feed([]byte("\n"+want.line+"\n"), frame.Stamp{})
		var f frame.Frame
		if !d.Next(&f) || f.Refusal != nil {
			t.Fatalf("%s: got %v of %q, want a frame", name, f.Refusal, want.line)
		}
		signals, err := assemble.Signals(in)
		if err != nil {
			t.Fatal(err)
		}
		r := convert.Reading{LowSignal: f.LowSignal, Camera: f.Camera}
		if signals.Work(&r, &position.State{}); r.Refusal != nil || math.Abs(r.Low.V.Millimetres()-want.mm) > 1e-9 {
			t.Errorf("%s: got %v mm, %v, want %v mm", name, r.Low.V.Millimetres(), r.Refusal, want.mm)
		}
	}
}
