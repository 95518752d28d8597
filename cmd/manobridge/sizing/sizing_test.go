package sizing

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/layout"
	"manobridge/configs"
	"manobridge/convert/quantity"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference")

// The place of the tests: round numbers, so that results can be had by hand.
const site = `
site: filter-hall
bridge: bench
location: {gravity_m_s2: 9.80715, gravity_u_m_s2: 0.00002}
ambient: {temperature_c: 20.0, pressure_hpa: 1013.25, relative_humidity_pct: 50}
liquids:
  pale-oil: {density_kg_m3: 830.0, reference_c: 20.0, expansion_per_k: 0.00085, density_u_kg_m3: 0.4}
instruments:
`

const anyInstrument = `
  any:
    offline: true
    liquid: water
    geometry: {kind: u-tube, bore_mm: 6.0, scale_mm: [-200, 200]}
    zero: {high_mm: 0, low_mm: 0, temperature_c: 20.0}
`

func parse(t testing.TB, text string) *configs.Config {
	t.Helper()
	c, err := configs.Parse("test", []byte(text), configs.Options{SkipSecrets: true})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// oil asks for pale oil at 20 °C alone, at six slopes.
func oil(t testing.TB, low, high, resolve float64) Request {
	return Request{RangePa: [2]float64{low, high}, ResolvePa: resolve, Liquids: []string{"pale-oil"}, MaxLengthMM: 1000,
		TemperatureC: [2]float64{20, 20}, PositionMM: 0.1, Config: parse(t, site+anyInstrument), Top: 20, slopes: []float64{90, 45, 12, 5, 4, 3}}
}

func run(t testing.TB, r Request) Sizing {
	t.Helper()
	s, err := Search(r)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func near(t testing.TB, what string, got, want, relative float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.9g, want %.9g ± %.1g of it (%s)", what, got, want, relative, source)
	}
}

// Every candidate is held to the closed form Δp = (ρ − ρ_air) g L (sin θ + a/A), with ρ = 830 kg/m³ at 20 °C and
// ρ_air = 1.1993139 kg/m³ at 20 °C, 1013.25 hPa, 50 % (CIPM-2007, evaluated by the Measurement Standards Laboratory of New
// Zealand); a U-tube to Δp = (ρ − ρ_air) g 2 s. Source of the closed form: R. W. Fox, A. T. McDonald, Introduction to Fluid
// Mechanics, chapter 3. By hand from it, at 250 Pa:
//
//	1 mrad   250 × 0.001 cos θ / (sin θ + a/A), and 5e-7 of it from the second order
//	5 K      250 × (830 − 830/1.00425) / 828.8006861 = 1.0595345 Pa, whatever the shape
func TestCandidatesAgreeWithTheClosedForm(t *testing.T) {
	const contrast, g = 830 - 1.1993139, 9.80715
	s := run(t, oil(t, 0, 250, 2))
	if len(s.Candidates) < 4 {
		t.Fatalf("got %d candidates, want those of four slopes or more", len(s.Candidates))
	}
	kinds := map[string]int{}
	for _, k := range s.Candidates {
		kinds[k.Kind]++
		near(t, k.name()+": 5 K", k.WarmPa, 1.0595345, 1e-6, "by hand")
		if k.Kind == configs.UTube {
			near(t, k.name(), k.SensitivityMMPerPa, 1000/(2*contrast*g), 1e-8, "closed form")
			continue
		}
		theta := k.SlopeDeg * math.Pi / 180
		rise := math.Sin(theta) + math.Pow(k.BoreMM / *k.ReservoirMM, 2)
		near(t, k.name(), k.SensitivityMMPerPa, 1000/(contrast*g*rise), 1e-8, "closed form")
		near(t, k.name()+": step", k.ResolutionPa, 0.1*contrast*g*rise/1000, 1e-8, "closed form, 0.1 mm")
		if k.SlopeDeg < 90 {
			near(t, k.name()+": 1 mrad", k.TiltPa, 0.25*math.Cos(theta)/rise, 0.001*math.Tan(theta)+1e-6, "by hand, first order")
		}
		if want := 250 / (contrast * g * rise) * 1000; k.ZeroMM+want > k.ScaleMM[1] || k.LengthMM > want+40 {
			t.Errorf("%s: got a scale of %v mm, want one that holds %.1f mm above the zero at %g mm with little to spare", k.name(), k.ScaleMM, want, k.ZeroMM)
		}
	}
	if kinds[configs.InclinedReservoir] == 0 || kinds[configs.UTube] != 1 {
		t.Errorf("got %v, want inclined tubes and the U-tube", kinds)
	}
}

// The block that is printed, put into a file, gives the uncertainty that was printed: what size promises, check confirms.
func TestPrintedConfigurationGivesTheSameNumbers(t *testing.T) {
	s := run(t, oil(t, -50, 250, 1))
	for _, k := range []Candidate{s.Candidates[0], s.Candidates[len(s.Candidates)-1]} {
		c := parse(t, site+"  "+strings.ReplaceAll(strings.TrimSpace(k.Configuration), "\n", "\n  ")+"\n")
		conv, err := assemble.Converter(c, &c.Instruments[0])
		if err != nil {
			t.Fatal(err)
		}
		p, err := conv.Predict(k.WorstAtPa, quantity.Celsius(20))
		if err != nil {
			t.Fatal(err)
		}
		near(t, k.name()+": expanded uncertainty", p.ExpandedU, k.ExpandedUPa, 1e-12, "the converter of the printed block")
		near(t, k.name()+": sensitivity", math.Abs(p.MovePerPa)*1000, k.SensitivityMMPerPa, 1e-12, "the converter of the printed block")
	}
}

func TestCandidatesAreRankedAndCounted(t *testing.T) {
	r := oil(t, 0, 250, 0.4)
	s := run(t, r)
	for i := 1; i < len(s.Candidates); i++ {
		if s.Candidates[i].ExpandedUPa < s.Candidates[i-1].ExpandedUPa {
			t.Errorf("got %s before %s, which is less uncertain", s.Candidates[i-1].name(), s.Candidates[i].name())
		}
	}
	refused := 0
	for _, x := range s.Refused {
		refused += x.Count
	}
	if got, want := s.Accepted+refused, s.Tried; got != want {
		t.Errorf("got %d accepted or refused, want all %d that were tried", got, want)
	}
	// A wish for less cannot be granted to more.
	r.ResolvePa = 0.2
	if finer := run(t, r); finer.Accepted > s.Accepted {
		t.Errorf("got %d candidates that resolve 0.2 Pa and %d that resolve 0.4 Pa, want no more", finer.Accepted, s.Accepted)
	}
	r.ResolvePa, r.MaxLengthMM = 0.4, 200
	if shorter := run(t, r); shorter.Accepted > s.Accepted {
		t.Errorf("got %d candidates on 200 mm and %d on 1000 mm, want no more", shorter.Accepted, s.Accepted)
	}
}

// reason finds one reason among those of a search.
func reason(s *Sizing, name string) (Refused, bool) {
	for _, r := range s.Refused {
		if r.Reason == name {
			return r, true
		}
	}
	return Refused{}, false
}

func TestEveryReasonIsGiven(t *testing.T) {
	long := oil(t, 0, 250, 1)
	long.MaxLengthMM = 100
	cold := oil(t, 0, 250, 1)
	cold.Liquids, cold.TemperatureC = []string{"water"}, [2]float64{-5, 20}
	hot := oil(t, 0, 250, 1)
	hot.Liquids, hot.TemperatureC = []string{"gasoline:720"}, [2]float64{15, 30}
	coarse := oil(t, 0, 250, 0.1)
	for _, c := range []struct {
		request        Request
		reason, inside string
		count          int
	}{
		{oil(t, 0, 250, 1), reasonStretched, "4°", 18}, // two slopes of nine pairs of bores
		{long, reasonLong, "100 mm", 0},
		{cold, reasonDensity, "-5 °C", 55},
		{hot, reasonVolatile, "gasoline", 55},
		{coarse, reasonResolution, "wanted 0.1 Pa", 0},
	} {
		s := run(t, c.request)
		r, found := reason(&s, c.reason)
		if !found || !strings.Contains(r.Example, c.inside) || c.count > 0 && r.Count != c.count {
			t.Errorf("%s: got %+v among %+v, want %d with an example that says %q", c.reason, r, s.Refused, c.count, c.inside)
		}
	}
}

// By hand, the finest tube of the grid that the meniscus allows, 5° with bores 3 and 100 mm, moves
// 1000 / (828.8006861 × 9.80715 × (0.0871557 + 0.0009)) = 1.39717 mm/Pa: 0.1 mm is 0.0715731 Pa.
func TestNothingWillDo(t *testing.T) {
	s := run(t, oil(t, 0, 250, 0.07))
	if s.Accepted != 0 || len(s.Candidates) != 0 {
		t.Fatalf("got %d candidates, want none", s.Accepted)
	}
	r, _ := reason(&s, reasonResolution)
	if !strings.Contains(r.Example, "0.0716 Pa") || !strings.Contains(r.Example, "5°") {
		t.Errorf("got the nearest %q, want 5° with 0.0716 Pa", r.Example)
	}
	if !strings.Contains(s.String(), "No candidate will do") {
		t.Errorf("got %q, want it said", s.String())
	}
	if run(t, oil(t, 0, 250, 0.072)).Accepted == 0 {
		t.Error("got no candidate that resolves 0.072 Pa, want the one of 0.0716 Pa")
	}
}

func TestRequestsThatMakeNoSense(t *testing.T) {
	for name, spoil := range map[string]func(r *Request){
		"--range":            func(r *Request) { r.RangePa = [2]float64{250, 0} },
		"--resolve":          func(r *Request) { r.ResolvePa = 300 },
		"--resolve is":       func(r *Request) { r.ResolvePa = math.NaN() },
		"--position-mm":      func(r *Request) { r.PositionMM = 0 },
		"--max-length-mm":    func(r *Request) { r.MaxLengthMM = 1 },
		"--temperature-span": func(r *Request) { r.TemperatureC = [2]float64{30, 15} },
		"--top":              func(r *Request) { r.Top = 0 },
		"unobtainium":        func(r *Request) { r.Liquids = []string{"unobtainium"} },
		"no manometer":       func(r *Request) { r.Liquids = []string{"air"} },
	} {
		r := oil(t, 0, 250, 1)
		spoil(&r)
		if s, err := Search(r); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("got %+v, %v; want a refusal that names %s", s, err, name)
		}
	}
}

// Flash points from memory of the standards named in the table; spirits fall with strength, as every handbook has it.
func TestFlashPoints(t *testing.T) {
	for name, want := range map[string]float64{"jet-fuel:800": 38, "fuel-oil:850": 55, "ethanol-water:1": 13, "ethanol-water:0.080": 49} {
		if got, known := flashPoint(name); !known || got != want {
			t.Errorf("%s: got %g °C, %t; want %g °C", name, got, known, want)
		}
	}
	last := math.Inf(1)
	for _, name := range []string{"ethanol-water:0.1", "ethanol-water:0.3", "ethanol-water:0.5", "ethanol-water:0.9", "ethanol-water:0.98"} {
		got, known := flashPoint(name)
		if !known || got >= last {
			t.Errorf("%s: got %g °C, %t; want it below %g °C", name, got, known, last)
		}
		last = got
	}
	for _, name := range []string{"water", "mercury", "ethanol-water:0.02", "pale-oil"} {
		if got, known := flashPoint(name); known {
			t.Errorf("%s: got %g °C, want none known", name, got)
		}
	}
}

func TestText(t *testing.T) {
	builtIn := Request{RangePa: [2]float64{0, 250}, ResolvePa: 1, MaxLengthMM: 300, TemperatureC: [2]float64{15, 30}, PositionMM: 0.1,
		Liquids: []string{"ethanol-water:0.40", "lubricating-oil:830", "mercury"}, Top: 4}
	for name, r := range map[string]Request{"size-builtin": builtIn, "size-own-oil": func() Request {
		r := oil(t, -20, 60, 0.25)
		r.Top, r.slopes = 3, nil
		return r
	}()} {
		s := run(t, r)
		got := s.String()
		for _, line := range strings.Split(got, "\n") {
			if n := utf8.RuneCountInString(line); n > layout.Width {
				t.Errorf("%s: a line of %d characters, want at most %d: %q", name, n, layout.Width, line)
			}
		}
		path := filepath.Join("testdata", name+".txt")
		if *update {
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if got != string(want) {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
	}
}

// Numbers in JSON name their unit, and nothing is null.
func TestJSONKeys(t *testing.T) {
	raw, err := json.Marshal(run(t, oil(t, 0, 250, 1)))
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(raw), "null") {
		t.Errorf("got null in %s; absent numbers are left out", raw)
	}
	var doc struct {
		Candidates []map[string]any `json:"candidates"`
	}
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"slope_deg", "bore_mm", "reservoir_bore_mm", "tube_length_mm", "sensitivity_mm_per_pa", "tilt_1_mrad_pa", "uncompensated_5_k_pa", "expanded_uncertainty_pa"} {
		if v, ok := doc.Candidates[0][key].(float64); !ok || v <= 0 {
			t.Errorf("%s: got %v, want a number above 0", key, doc.Candidates[0][key])
		}
	}
}
