package desk

import (
	"math"
	"strings"
	"testing"

	"manobridge/convert"
	"manobridge/convert/uncertainty"
)

// line finds an input of a budget.
func line(t *testing.T, b *Budget, input string) Line {
	t.Helper()
	for _, l := range b.Lines {
		if l.Input == input {
			return l
		}
	}
	t.Fatalf("got no line for %q in %+v", input, b.Lines)
	return Line{}
}

// By hand at 170.691626 Pa, 100 mm along the limb from the zero, with Δρ g = 828.8006861 × 9.80715 = 8128.172649 Pa/m:
//
//	position      8128.172649 × 0.21 / 1000        = 1.706916 Pa/mm   × 0.10 mm      = 0.170692 Pa
//	zero          the same, opposite               = −1.706916 Pa/mm  × 0.10 mm      = 0.170692 Pa
//	slope ratio   8128.172649 × 0.1                = 812.817265 Pa    × 0.0003       = 0.243845 Pa
//	bore          8128.172649 × 0.1 × 2 × 0.01 / 4 = 4.064086 Pa/mm   × 0.02 mm      = 0.081282 Pa
//	reservoir     −8128.172649 × 0.1 × 2 × 0.01/40 = −0.406409 Pa/mm  × 0.1 mm       = 0.040641 Pa
//	density       9.80715 × 0.1 × 0.21             = 0.205950 Pa/(kg/m³) × 0.4       = 0.082380 Pa
//	gravity       170.691626 / 9.80715             = 17.404814 Pa/(m/s²) × 0.00002   = 0.000348 Pa
//	temperature   −830 × 0.00085 × 0.205950        = −0.145298 Pa/K   × 0.3 K        = 0.043589 Pa
//	expansion     0 at the reference temperature
//	air           −9.80715 × 0.1 × 0.21 = −0.205950 Pa/(kg/m³), which varies by 1.1993/101325 × 1000 Pa = 0.01184 kg/m³ with
//	              the weather (1000 Pa assumed) and by (1.1993/293.15 + 0.378 × 1.1993 × 72.5/101325) × 2 K = 0.00883 kg/m³
//	              with the room (2 K assumed; 72.5 Pa/K by which the vapour at 50 % rises): 0.002438 and 0.001819 Pa
//
// and ν = 9 for the position alone: ν_eff = 9 (u_c / 0.170692)⁴.
func TestBudgetByHand(t *testing.T) {
	b, err := bench(t, "panel-test").Budget(At{Pa: ptr(170.691626)})
	if err != nil {
		t.Fatal(err)
	}
	const source = "by hand"
	sum := 0.0
	for _, c := range []struct {
		input                    string
		sensitivity, contributes float64
	}{
		{"low-limb position", 1.706916, 0.170692},
		{"low-limb position at the zero", -1.706916, -0.170692},
		{"slope", 812.817265, 0.243845},
		{"bore", 4.064086, 0.081282},
		{"reservoir bore", -0.406409, -0.040641},
		{"pale-oil density at reference", 0.205950, 0.082380},
		{"local gravity", 17.404814, 0.000348},
		{"liquid temperature", -0.145298, -0.043589},
	} {
		l := line(t, &b, c.input)
		near(t, "sensitivity to "+c.input, *l.SensitivityPa, c.sensitivity, 2e-6*math.Abs(c.sensitivity), source)
		near(t, "contribution of "+c.input, l.ContributionPa, c.contributes, 1e-6, source)
		sum += c.contributes * c.contributes
	}
	sum += 0.002438*0.002438 + 0.001819*0.001819
	near(t, "combined", b.CombinedUPa, math.Sqrt(sum), 2e-6, source)
	near(t, "effective degrees of freedom", *b.EffectiveDOF, 9*math.Pow(math.Sqrt(sum)/0.170692, 4), 0.01, "JCGM 100:2008, equation G.2b")
	near(t, "k", b.CoverageFactor, 2.0125, 0.0125, "JCGM 100:2008, table G.2, between 2.025 at ν = 100 and 2.000")
	near(t, "expanded", b.ExpandedUPa, b.CoverageFactor*b.CombinedUPa, 1e-12, "JCGM 100:2008, 6.2.1")
	near(t, "position", line(t, &b, "low-limb position").Value, 110, 1e-5, "by hand: 10 mm and 100 mm")
}

func TestBudgetIsSortedAndSumsToOne(t *testing.T) {
	for _, name := range []string{"panel-test", "coarse-test", "wet-leg"} {
		b, err := bench(t, name).Budget(At{})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for i, l := range b.Lines {
			sum += l.Share
			if i > 0 && l.Share > b.Lines[i-1].Share {
				t.Errorf("%s: %s stands below %s, which brings less", name, l.Input, b.Lines[i-1].Input)
			}
		}
		near(t, name+": sum of the shares", sum, 1, 1e-12, "the parts of a whole")
	}
}

// The budget of a reading and that of the pressure it gives are the same.
func TestBudgetOfAReading(t *testing.T) {
	bn := bench(t, "coarse-test")
	read, err := bn.Budget(At{Read: &Given{HighMM: ptr(-49.5), LowMM: ptr(50.3), TemperatureC: ptr(20)}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "pressure", read.PressurePa, 9777.8010*0.1, 1e-3, "by hand: 100 mm of water of 998.2067 kg/m³ under air")
	same, err := bn.Budget(At{Pa: &read.PressurePa})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "expanded uncertainty", same.ExpandedUPa, read.ExpandedUPa, 1e-9, "the same state")
}

// Nothing enters the model by its sensitivity alone, and the interval is that of the first-order budget: these instruments
// are straight lines in their inputs over their uncertainties.
func TestMonteCarloAgreesWhereTheModelIsStraight(t *testing.T) {
	for _, name := range []string{"panel-test", "coarse-test", "wet-leg", "draught", "upside-down"} {
		bn := bench(t, name)
		b, err := bn.Budget(At{})
		if err != nil {
			t.Fatal(err)
		}
		if err := bn.MonteCarlo(&b, At{}, 20_000); err != nil {
			t.Fatal(err)
		}
		mc := b.MonteCarlo
		if len(mc.Straight) != 0 {
			t.Errorf("%s: got %q entering straight, want every input moved", name, mc.Straight)
		}
		if mc.ValidatedDigits == 0 {
			t.Errorf("%s: got %+v, want the first-order interval validated", name, mc)
		}
		// The mean of n draws scatters by u/√n, their standard deviation by u/√(2n); five times that.
		scatter := 5 * b.CombinedUPa / math.Sqrt(20_000)
		near(t, name+": mean", mc.MeanPa, b.PressurePa, scatter, "a straight model")
		near(t, name+": standard uncertainty", mc.UPa, b.CombinedUPa, scatter+0.01*b.CombinedUPa, "a straight model; a t of 9 degrees is 1 % of u wider here")
	}
}

// A bore of 10 mm ± 2 mm in a reservoir of 15 mm enters squared: p = K (1 + d²/D²) has the mean K (1 + (d² + u²)/D²), which a
// straight line does not see, and half its interval is not that of one. d² of 10 mm alone is 100 mm², with u² 104 mm².
func TestMonteCarloSeesWhatAStraightLineDoesNot(t *testing.T) {
	const draws = 20_000
	bn := bench(t, "wide-bore")
	at := At{Pa: ptr(1000)}
	b, err := bn.Budget(at)
	if err != nil {
		t.Fatal(err)
	}
	if err := bn.MonteCarlo(&b, at, draws); err != nil {
		t.Fatal(err)
	}
	k := 1000 / (1 + 100.0/225)
	near(t, "mean", b.MonteCarlo.MeanPa, k*(1+104.0/225), 5*b.CombinedUPa/math.Sqrt(draws), "E(d²) = d² + u²")
	if b.MonteCarlo.ValidatedDigits == 2 {
		t.Errorf("got %+v, want it not validated to two digits: 2.275 %% of d² lie below (10 − 4)² = 36 mm², not below 100 − 80 = 20 mm²", b.MonteCarlo)
	}
	// Monotone in the bore, so that the ends are those of the bore: d² at 10 ± 4 mm, within five times their scatter.
	near(t, "low end", b.MonteCarlo.LowPa, k*(1+36.0/225), 12, "the quantile of a monotone function")
	near(t, "high end", b.MonteCarlo.HighPa, k*(1+196.0/225), 12, "the quantile of a monotone function")
	again, err := bn.Budget(at)
	if err != nil {
		t.Fatal(err)
	}
	if err := bn.MonteCarlo(&again, at, draws); err != nil {
		t.Fatal(err)
	}
	if again.MonteCarlo.LowPa != b.MonteCarlo.LowPa {
		t.Errorf("got %v, then %v; want the same from the same seed", b.MonteCarlo.LowPa, again.MonteCarlo.LowPa)
	}
}

// An input whose name nothing knows must not be lost: it enters by its sensitivity, and is named.
func TestMonteCarloNamesWhatItDoesNotKnow(t *testing.T) {
	bn := bench(t, "panel-test")
	p, _, err := bn.point(At{Pa: ptr(100)})
	if err != nil {
		t.Fatal(err)
	}
	inputs := bn.converter.Inputs()
	for i := range inputs {
		if inputs[i].Name == "slope" {
			inputs[i].Name = "something new"
		}
	}
	m := newModel(&bn.options, inputs, p)
	if got := strings.Join(m.straightNames(), ","); got != "something new" {
		t.Errorf("got %q straight, want something new", got)
	}
	x := make([]float64, len(inputs))
	for i := range inputs {
		if inputs[i].Name == "something new" {
			x[i] = inputs[i].U
			got, err := m.pressure(x)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "one standard uncertainty", got, 100+p.contributions[i], 1e-9, "its contribution")
		}
	}
}

func TestDistributionsOfInputs(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		in   convert.Input
		want uncertainty.Distribution
	}{
		{convert.Input{Name: "low-limb resolution", U: 0.1, DOF: inf}, uncertainty.Rectangular(0, 0.1*math.Sqrt(3))},
		{convert.Input{Name: "slope", U: 0.1, DOF: inf}, uncertainty.Normal(0, 0.1)},
		{convert.Input{Name: "low-limb position", U: 0.1, DOF: 9}, uncertainty.ScaledT(0, 0.1, 9)},
	} {
		got, err := distribution(c.in)
		if err != nil || got != c.want {
			t.Errorf("%s: got %v, %v; want %v (JCGM 101:2008, 6.4)", c.in.Name, got, err, c.want)
		}
	}
	if d, err := distribution(convert.Input{Name: "low-limb position", U: 0.1, DOF: 2}); err == nil {
		t.Errorf("got %v, want a refusal: a t of 2 degrees of freedom has no standard deviation", d)
	}
}

func TestBudgetText(t *testing.T) {
	// Figures of no run, to see them set.
	run := MonteCarlo{Draws: 20_000, Seed: 1, MeanPa: 1012.5, UPa: 124.1, LowPa: 803.1, HighPa: 1294.7, LowDeviationPa: 49.2, HighDeviationPa: 48.6,
		TwoDigitTolerancePa: 5, OneDigitTolerancePa: 50, NoisePa: 2.4, ValidatedDigits: 1, Straight: []string{"low-limb meniscus height"}}
	for name, c := range map[string]struct {
		instrument string
		at         At
		run        *MonteCarlo
	}{
		"budget-panel":   {"panel-test", At{Pa: ptr(120)}, nil},
		"budget-wet-leg": {"wet-leg", At{}, nil},
		"budget-wide":    {"wide-bore", At{Pa: ptr(1000)}, &run},
	} {
		bn := bench(t, c.instrument)
		b, err := bn.Budget(c.at)
		if err != nil {
			t.Fatal(err)
		}
		b.MonteCarlo = c.run
		golden(t, name, b.String())
		unitsInKeys(t, b)
	}
	for digits, want := range []string{"NOT validated: state the Monte Carlo interval", "to one digit", "to two digits"} {
		m := MonteCarlo{Draws: 200_000, NoisePa: 0.01, ValidatedDigits: digits, Close: digits == 1}
		got := m.verdict()
		if !strings.Contains(got, want) || strings.Contains(got, "--monte-carlo=4000000") != m.Close {
			t.Errorf("%d digits: got %q, want %q", digits, got, want)
		}
	}
}
