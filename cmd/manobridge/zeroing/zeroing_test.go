package zeroing

import (
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish/journal"
)

func everyKind(t *testing.T) *configs.Config { return example(t, "every-kind") }

func example(t *testing.T, name string) *configs.Config {
	t.Helper()
	c, err := configs.Load(filepath.Join("..", "..", "..", "configs", name+".example.yaml"), configs.Options{HostName: "bench", SkipSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// taken is a zero at the positions of the file, moved by 0.3 of the unit in each limb, from 30 readings with u in it.
func taken(in *configs.Instrument, u float64) journal.ZeroTaken {
	z := journal.ZeroTaken{ID: 1, Instrument: in.Name, Time: time.Date(2026, 3, 9, 10, 0, 0, 0, time.UTC), Who: "lab", Why: "a test", N: 31, FileZeroHash: Hash(in)}
	z.Temperature.V = convert.Some(quantity.Celsius(*in.Zero.TemperatureC))
	at := func(mm *float64) (out journal.Uncertain[quantity.Length]) {
		if mm != nil {
			out.V, out.U = convert.Some(quantity.Millimetres(*mm+0.3)), u/1000
		}
		return out
	}
	z.High, z.Low = at(in.Zero.HighMM), at(in.Zero.LowMM)
	if in.Zero.Reading != nil {
		z.Indicated = journal.Uncertain[float64]{V: convert.Some(*in.Zero.Reading + 0.3), U: u}
	}
	return z
}

// Every kind that has a zero takes one in its place: what was read at the new zero is then no pressure.
func TestAZeroThatWasTakenHoldsForEveryKind(t *testing.T) {
	c := everyKind(t)
	tried := 0
	for i := range c.Instruments {
		in := &c.Instruments[i]
		if in.Zero == nil || in.Geometry.Kind == configs.Sealed {
			continue
		}
		z := taken(in, 0.01)
		with, err := Apply(c, map[string]*Held{in.Name: {ZeroTaken: z}})
		if err != nil {
			t.Errorf("%s: %v", in.Name, err)
			continue
		}
		now := assemble.Instrument(with, in.Name)
		conv, err := assemble.Converter(with, now)
		if err != nil {
			t.Errorf("%s: %v", in.Name, err)
			continue
		}
		r := convert.Reading{High: z.High.V, Low: z.Low.V, Indicated: z.Indicated.V, Temperature: z.Temperature.V}
		res := conv.Convert(r)
		if pa, ok := res.Pressure(); !ok || math.Abs(pa) > 1e-6 {
			t.Errorf("%s (%s): got %v Pa (%v, %v) at its zero, want 0 ± 1e-6 Pa", in.Name, in.Geometry.Kind, pa, ok, res.Refusal)
		}
		before, err := assemble.CoefficientSet(c, in)
		if err != nil {
			t.Fatal(err)
		}
		after, err := assemble.CoefficientSet(with, now)
		if err != nil {
			t.Fatal(err)
		}
		if before.Hash == after.Hash {
			t.Errorf("%s: got the same coefficient set, want another", in.Name)
		}
		if in.Zero.Date == now.Zero.Date && in == now {
			t.Errorf("%s: got the configuration that was given changed", in.Name)
		}
		tried++
	}
	if tried < 4 {
		t.Errorf("got %d kinds tried, want at least 4", tried)
	}
}

// The uncertainty of the zero is that stated and that of the mean together: √(0.3² + 0.4²) = 0.5, and with 10 and 16 degrees of
// freedom 0.5⁴ / (0.3⁴/10 + 0.4⁴/16) = 0.0625/0.00241 = 25.93 (JCGM 100:2008, equations 10 and G.2b).
func TestUncertaintyOfAZeroIsThatOfBoth(t *testing.T) {
	u, dof := together(0.3, 10, 0.4, 17)
	if math.Abs(u-0.5) > 1e-12 || math.Abs(dof-25.93) > 0.01 {
		t.Errorf("got u = %v with %v degrees of freedom, want 0.5 ± 1e-12 with 25.93 ± 0.01", u, dof)
	}
	if u, dof := together(0.3, 0, 0, 17); u != 0.3 || dof != 0 {
		t.Errorf("got u = %v with %v degrees of freedom, want 0.3 as stated and infinite, written 0", u, dof)
	}
}

// What a signal adds to a position counts once in a zero that was taken through it, as the mean has it: with 0.3 mm of the
// scale and 0.4 mm of the signal √(0.3² + 0.4²) = 0.5 mm, not √(0.3² + 0.4² + 0.4²) = 0.64 mm (JCGM 100:2008, 5.1.2). An
// uncertainty that is stated for the zero stands beside that of the mean: √(1.2² + 0.5²) = 1.3 mm.
func TestASignalCountsOnceInAZero(t *testing.T) {
	for _, k := range []struct {
		stated         string
		meanMM, wantMM float64
	}{{"position_mm: 0.3", 0.4, 0.5}, {"position_mm: 0.3, zero_mm: 1.2", 0.5, 1.3}} {
		c, err := configs.Parse("bench.yaml", []byte(strings.Replace(signalBench, "STATED", k.stated, 1)), configs.Options{HostName: "bench"})
		if err != nil {
			t.Fatal(err)
		}
		in := &c.Instruments[0]
		z := taken(in, k.meanMM)
		with, err := Apply(c, map[string]*Held{in.Name: {ZeroTaken: z}})
		if err != nil {
			t.Fatal(err)
		}
		o, err := assemble.Options(with, assemble.Instrument(with, in.Name))
		if err != nil {
			t.Fatal(err)
		}
		if got := o.U.Low.Zero.U.Millimetres(); math.Abs(got-k.wantMM) > 1e-9 {
			t.Errorf("%s: got u = %v mm of the zero, want %v ± 1e-9 mm", k.stated, got, k.wantMM)
		}
	}
}

const signalBench = `site: test-hall
bridge: bench-pc
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 21.0, pressure_hpa: 962.0, relative_humidity_pct: 40}
liquids:
  pale-oil: {density_kg_m3: 830, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
instruments:
  bank-1:
    offline: true
    liquid: pale-oil
    geometry: {kind: inclined-reservoir, slope_deg: 11.54, bore_mm: 4.0, reservoir_bore_mm: 40.0, scale_mm: [0, 300]}
    zero: {low_mm: 10.2, temperature_c: 20.4}
    uncertainty: {STATED}
    signal: {low: {unit: counts, points: [[0, 0], [1000, 300]], u_mm: 0.4}}
`

// The file holds again once its own zero is another, and the earlier zero once the later was dropped.
func TestWhichZeroHolds(t *testing.T) {
	c := everyKind(t)
	var in *configs.Instrument
	for i := range c.Instruments {
		if c.Instruments[i].Zero != nil {
			in = &c.Instruments[i]
			break
		}
	}
	first, second := taken(in, 0.01), taken(in, 0.02)
	second.ID, second.Time = 2, first.Time.Add(time.Hour)
	if h := Of(c, []journal.ZeroTaken{first, second})[in.Name]; h == nil || h.ID != 2 || h.FileChanged || !strings.Contains(h.String(), "2026-03-09T11:00:00Z by lab overrides the file") {
		t.Errorf("got %+v, want the second", h)
	}
	second.Dropped = second.Time.Add(time.Minute)
	if h := Of(c, []journal.ZeroTaken{first, second})[in.Name]; h == nil || h.ID != 1 {
		t.Errorf("got %+v, want the first", h)
	}
	zero := *in.Zero
	t0 := *zero.TemperatureC + 1
	zero.TemperatureC = &t0
	in.Zero = &zero
	h := Of(c, []journal.ZeroTaken{first})[in.Name]
	if h == nil || !h.FileChanged || !strings.Contains(h.String(), "the file holds") {
		t.Errorf("got %+v, want that the file holds", h)
	}
	same, err := Apply(c, map[string]*Held{in.Name: h})
	if err != nil || *assemble.Instrument(same, in.Name).Zero.TemperatureC != t0 {
		t.Errorf("got %v, want the zero of the file", err)
	}
}

// still are n readings a tenth of a second apart.
func still(n int, c float64, at func(i int) float64) Observed {
	o := Observed{Bad: map[convert.Cause]int{}}
	for i := range n {
		o.Results = append(o.Results, convert.Result{Kind: convert.DifferentialValue, Reading: convert.Reading{SinceStart: time.Duration(i) * 100 * time.Millisecond,
			Low: convert.Some(quantity.Millimetres(at(i))), Temperature: convert.Some(quantity.Celsius(20 + c*float64(i)))}})
	}
	return o
}

func TestWhatIsNoZero(t *testing.T) {
	c := example(t, "filter-bench")
	var in *configs.Instrument
	for i := range c.Instruments {
		if c.Instruments[i].Geometry.Kind == configs.InclinedReservoir {
			in = &c.Instruments[i]
		}
	}
	conv, err := assemble.Converter(c, in)
	if err != nil {
		t.Fatal(err)
	}
	flat := func(int) float64 { return *in.Zero.LowMM }
	lost := still(30, 0, flat)
	lost.Bad[convert.FrameChecksum] = 10
	broken := still(30, 0, flat)
	broken.Bad[convert.LimbOffScale] = 1
	for _, k := range []struct {
		name, code string
		o          Observed
	}{
		{"too few", "zero-too-few", still(9, 0, flat)},
		{"warming", "zero-temperature", still(30, 0.1, flat)},
		{"a bad line", "zero-bad-readings", lost},
		{"off the scale", "zero-bad-readings", broken},
		{"nothing", "zero-too-few", Observed{}},
	} {
		_, err := Take(c, in, conv, k.o)
		var no *Refused
		if !errors.As(err, &no) || no.Code != k.code {
			t.Errorf("%s: got %v, want code %s", k.name, err, k.code)
		}
	}
	lost.Bad[convert.FrameChecksum] = 2 // of 32
	z, err := Take(c, in, conv, lost)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := z.Low.Value*1000, *in.Zero.LowMM; math.Abs(got-want) > 1e-9 || z.N != 30 {
		t.Errorf("got %v mm of %d readings, want %v ± 1e-9 mm of 30", got, z.N, want)
	}
}
