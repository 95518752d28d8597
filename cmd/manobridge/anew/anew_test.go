package anew_test

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"manobridge/cmd/manobridge/anew"
	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/zeroing"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
)

// oilBench is a reservoir instrument filled with an oil of this density.
func oilBench(t *testing.T, density string) *configs.Config {
	t.Helper()
	c, err := configs.Parse("bench.yaml", fmt.Appendf(nil, `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: %s, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
instruments:
  bank-1:
    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
`, density), configs.Options{HostName: "bench"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func reading(seq uint64, at time.Time, mm float64) convert.Reading {
	return convert.Reading{Name: convert.Name{Run: "january", Instrument: "bank-1", Seq: seq}, ReceivedAt: at, SinceStart: time.Duration(seq) * time.Second,
		Frame: fmt.Appendf(nil, "%.1f", mm), Low: convert.Some(quantity.Millimetres(mm)), Temperature: convert.Some(quantity.Celsius(20.4))}
}

// kept makes a journal of these results.
func kept(t *testing.T, results []convert.Result, set assemble.Set, began time.Time) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "manobridge.db")
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: "january", Bridge: "bench-pc", Started: began})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.AddCoefficientSet(t.Context(), journal.CoefficientSet{Hash: set.Hash, Instrument: "bank-1", Text: set.Text}); err != nil {
		t.Fatal(err)
	}
	if err := j.Append(t.Context(), results); err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func january(t *testing.T, c *configs.Config) (results []convert.Result, set assemble.Set, began time.Time) {
	t.Helper()
	in := assemble.Instrument(c, "bank-1")
	conv, err := assemble.Converter(c, in)
	if err != nil {
		t.Fatal(err)
	}
	if set, err = assemble.CoefficientSet(c, in); err != nil {
		t.Fatal(err)
	}
	began = time.Date(2026, 1, 12, 8, 0, 0, 0, time.UTC)
	for i, mm := range []float64{60, 110, 160, 400, 190} {
		r := conv.Convert(reading(uint64(i+1), began.Add(time.Duration(i+1)*time.Second), mm))
		if i == 2 {
			r.Mark(&convert.Refusal{Code: convert.InService, Field: "instrument", Seen: "is out"})
		}
		results = append(results, r)
	}
	return results, set, began
}

// A wrong density that was found in March corrects January, and both are on record. The oil was taken for one of 830 kg/m³
// and is one of 812 kg/m³ at 20 °C.
func TestAWrongDensityFoundInMarchCorrectsJanuary(t *testing.T) {
	results, set, began := january(t, oilBench(t, "830.0"))
	path := kept(t, results, set, began)
	before := export(t, path)

	j, err := journal.OpenTool(t.Context(), path, "recompute", nil)
	if err != nil {
		t.Fatal(err)
	}
	march := time.Date(2026, 3, 9, 10, 0, 0, 0, time.UTC)
	report, err := anew.Run(t.Context(), j, anew.Options{Config: oilBench(t, "812.0"), Who: "lab", Why: "density measured", Tag: "march", Now: march})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	// By hand: the readings stand at the temperature of the zero, so the head is that of the first results and the pressures go as
	// the densities of the oil less that of the air over it. At 20.4 °C the oils have 830 · 0.99966 = 829.718 and 812 · 0.99966 =
	// 811.724 kg/m³; the air of 21 °C, 962 hPa and 40 % has 1.135 kg/m³ (CIPM-2007). 810.589/828.583 = 0.978283.
	const ratio, tol = 0.978283, 1e-6
	again := map[uint64]journal.Recomputed{}
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}()
	for v, err := range r.Recomputed(t.Context(), report.Generation, journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		again[v.Seq] = v
	}
	if len(again) != len(results) {
		t.Fatalf("got %d results, want %d", len(again), len(results))
	}
	for i := range results {
		was, had := results[i].Pressure()
		v := again[uint64(i+1)]
		is, has := v.Pressure()
		if had != has {
			t.Errorf("seq %d: got a pressure: %v, want: %v", i+1, has, had)
			continue
		}
		if had && math.Abs(is/was-ratio) > tol {
			t.Errorf("seq %d: got %.6f Pa from %.6f Pa, a ratio of %.7f, want %.6f ± %.0e (by hand)", i+1, is, was, is/was, ratio, tol)
		}
		if v.Config == set.Hash {
			t.Errorf("seq %d: got the coefficients of January, want those of March", i+1)
		}
	}
	if c := again[3].Causes; !slices.Equal(c, []convert.Cause{convert.InService}) {
		t.Errorf("got the causes %v, want the instrument still out for maintenance", c)
	}
	if c := again[4].Causes; !slices.Equal(c, []convert.Cause{convert.LimbOffScale}) {
		t.Errorf("got the causes %v, want the position still off its scale", c)
	}

	c := report.Instruments["bank-1"]
	if c == nil || c.Results != 5 || c.Changed != 3 || c.LargestAt != began.Add(5*time.Second) || c.LargestPa >= 0 {
		t.Errorf("got %+v, want 5 results, 3 changed, the largest downward at the fifth", c)
	}
	if after := export(t, path); !slices.EqualFunc(before, after, same) {
		t.Errorf("got the first results changed, want them as they were:\n%+v\n%+v", before, after)
	}
	list, err := r.Generations(t.Context())
	if err != nil || len(list) != 1 || list[0].Tag != "march" || list[0].Who != "lab" || list[0].Why != "density measured" || list[0].Count != 5 || list[0].Ended.IsZero() {
		t.Errorf("got %+v and %v, want one whole generation of 5 by the lab", list, err)
	}
}

func same(a, b publish.Row) bool {
	x, hadX := a.Pressure()
	y, hadY := b.Pressure()
	return a.ID == b.ID && a.Name == b.Name && x == y && hadX == hadY && a.Config == b.Config && a.ExpandedU == b.ExpandedU && slices.Equal(a.Causes, b.Causes)
}

func export(t *testing.T, path string) (list []publish.Row) {
	t.Helper()
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for row, err := range r.Export(t.Context(), journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, row)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	return list
}

// With the coefficients they were computed with, results come out as they were.
func TestTheSameCoefficientsGiveTheSameResults(t *testing.T) {
	c := oilBench(t, "830.0")
	results, set, began := january(t, c)
	j, err := journal.OpenTool(t.Context(), kept(t, results, set, began), "recompute", nil)
	if err != nil {
		t.Fatal(err)
	}
	report, err := anew.Run(context.Background(), j, anew.Options{Config: c, Who: "lab", Why: "a test", Now: began.Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if got := report.Instruments["bank-1"]; got.Changed != 0 || len(got.Statuses) != 0 || got.Results != 5 || got.Config != set.Hash {
		t.Errorf("got %+v, want 5 results and no change", got)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
}

// A zero that was taken between two readings changes those after it, and none before.
func TestEachReadingHasTheZeroOfItsTime(t *testing.T) {
	c := oilBench(t, "830.0")
	in := assemble.Instrument(c, "bank-1")
	results, set, began := january(t, c)
	j, err := journal.OpenTool(t.Context(), kept(t, results, set, began), "recompute", nil)
	if err != nil {
		t.Fatal(err)
	}
	z := journal.ZeroTaken{Instrument: "bank-1", Time: began.Add(3500 * time.Millisecond), Who: "lab", Why: "a test", N: 100, FileZeroHash: zeroing.Hash(in)}
	z.Low.V, z.Temperature.V = convert.Some(quantity.Millimetres(11.2)), convert.Some(quantity.Celsius(20.4))
	if _, err := j.AddZero(t.Context(), z); err != nil {
		t.Fatal(err)
	}
	report, err := anew.Run(t.Context(), j, anew.Options{Config: c, Who: "lab", Why: "a test", Now: began.Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	// By hand: 1 mm along the tube is 1 mm · (0.200052 + 0.01) · 828.583 kg/m³ · 9.80715 m/s² = 1.7069 Pa. Of the two readings after
	// the zero one is off the scale.
	const want, tol = -1.7069, 1e-3
	if got := report.Instruments["bank-1"]; got.Changed != 1 || got.LargestAt != began.Add(5*time.Second) || math.Abs(got.LargestPa-want) > tol {
		t.Errorf("got %+v, want the fifth reading alone changed, by %v ± %v Pa", got, want, tol)
	}
}

// A zero that was taken while the file had another ends what was taken before it: the file changed in between, and was
// changed back. The bridge lets the file hold from the later zero on, and so does what is computed again.
func TestAZeroTakenUnderAnotherFileEndsTheEarlierOne(t *testing.T) {
	c := oilBench(t, "830.0")
	in := assemble.Instrument(c, "bank-1")
	results, set, began := january(t, c)
	j, err := journal.OpenTool(t.Context(), kept(t, results, set, began), "recompute", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, z := range []struct {
		after time.Duration
		file  string
	}{{1500 * time.Millisecond, zeroing.Hash(in)}, {3500 * time.Millisecond, "another"}} {
		one := journal.ZeroTaken{Instrument: "bank-1", Time: began.Add(z.after), Who: "lab", Why: "a test", N: 100, FileZeroHash: z.file}
		one.Low.V, one.Temperature.V = convert.Some(quantity.Millimetres(11.2)), convert.Some(quantity.Celsius(20.4))
		if _, err := j.AddZero(t.Context(), one); err != nil {
			t.Fatal(err)
		}
	}
	zeros, err := j.Zeros(t.Context(), "")
	if err != nil {
		t.Fatal(err)
	}
	if h := zeroing.Of(c, zeros)["bank-1"]; h == nil || !h.FileChanged {
		t.Fatalf("got %+v, want the file to hold in a bridge that runs", h)
	}
	report, err := anew.Run(t.Context(), j, anew.Options{Config: c, Who: "lab", Why: "a test", Now: began.Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	// By hand, as above: 1 mm of the zero is 1.7069 Pa. The readings are at 1 to 5 s; the second has the first zero, the third is
	// out for maintenance and the fourth off the scale, and for the fifth the file holds.
	if got := report.Instruments["bank-1"]; got.Changed != 1 || got.LargestAt != began.Add(2*time.Second) || math.Abs(got.LargestPa+1.7069) > 1e-3 {
		t.Errorf("got %+v, want the second reading alone changed, by -1.7069 ± 0.001 Pa", got)
	}
}

// A barometer that was found wrong is put out of use by stating the pressure as fixed; the results computed again then have
// the configured one. By hand: the air of 21 °C, 962 hPa and 40 % has 1.135 kg/m³, at 1062 hPa 1.135 · (1062 − 3.76)/(962 − 3.76)
// = 1.253 kg/m³, as 0.378 of the 9.95 hPa of vapour counts off (CIPM-2007); under oil of 829.718 kg/m³ the pressures go as
// (829.718 − 1.135)/(829.718 − 1.253) = 1.000143.
func TestAChannelThatIsFixedNowIsFixedAgain(t *testing.T) {
	c := oilBench(t, "830.0")
	in := assemble.Instrument(c, "bank-1")
	conv, err := assemble.Converter(c, in)
	if err != nil {
		t.Fatal(err)
	}
	r := reading(1, time.Date(2026, 1, 12, 8, 0, 0, 0, time.UTC), 110)
	r.AmbientPressure = convert.Some(quantity.AbsolutePressure(106200))
	first := conv.Convert(r)
	was, _ := first.Pressure()
	for _, k := range []struct {
		channels configs.Channels
		want     float64
	}{{configs.Channels{}, 1}, {configs.Channels{PressureHPa: &configs.Channel{From: configs.FromFixed}}, 1.000143}} {
		now := anew.Again(conv, &configs.Instrument{Name: in.Name, Channels: k.channels}, [2]convert.Extra{}, &first)
		if is, ok := now.Pressure(); !ok || math.Abs(is/was-k.want) > 2e-6 {
			t.Errorf("got %v Pa from %v Pa, a ratio of %.7f, want %.6f ± 2e-6 (by hand)", is, was, is/was, k.want)
		}
	}
}
