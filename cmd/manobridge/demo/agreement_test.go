package demo

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"manobridge/cmd/manobridge/assemble"
	"manobridge/cmd/manobridge/demo/simulate"
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// converters loads the configuration of a hall as the bridge does.
func converters(t *testing.T, h *simulate.Hall) map[string]*convert.Converter {
	t.Helper()
	text := h.Config(simulate.Places{
		Devices: map[string]string{"slant-rack": "/dev/pts/1", "upright-rack": "/dev/pts/2"},
		Broker:  "tcp://127.0.0.1:1883", Journal: "j.db",
	})
	c, err := configs.Parse("hall.yaml", []byte(text), configs.Options{HostName: "demo"})
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	all := map[string]*convert.Converter{}
	for i := range c.Instruments {
		conv, err := assemble.Converter(c, &c.Instruments[i])
		if err != nil {
			t.Fatal(err)
		}
		all[c.Instruments[i].Name] = conv
	}
	return all
}

// reading is an observation as it comes out of a frame.
func reading(o simulate.Observation, both bool) convert.Reading {
	r := convert.Reading{
		Low:         convert.Some(quantity.Millimetres(o.LowMm)),
		Temperature: convert.Some(quantity.Celsius(o.TemperatureC)),
	}
	if both {
		r.High = convert.Some(quantity.Millimetres(o.HighMm))
	}
	return r
}

// TestTruthLiesWithinTheStatedUncertainty is the bridge's own promise, held against instruments that share none of its
// physics: over many halls, each with slopes, bores, densities, zeros and readings drawn from what the configuration
// declares, the truth must lie within U as often as its coverage factor says, no bias, and the deviations must scatter
// as widely as u_c says, no wider and no narrower. The seeds are fixed, so the verdict is.
//
// Source of the criterion: JCGM 100:2008, 6.2.2 and G.1.3, for a normal distribution; bounds are four standard
// deviations of each statistic over the number of halls.
func TestTruthLiesWithinTheStatedUncertainty(t *testing.T) {
	halls := 200
	if os.Getenv("MANOBRIDGE_LONG") == "1" {
		halls = 6000
	}
	type tally struct {
		n, within          int
		sum, squares, hope float64 // of deviation / u_c; hope: expected number within U
	}
	tallies := map[string]*tally{}
	for seed := range uint64(halls) {
		h, err := simulate.Build(simulate.TestHall(), seed)
		if err != nil {
			t.Fatal(err)
		}
		convs := converters(t, h)
		r := rand.New(rand.NewPCG(seed, 1))
		for _, in := range h.Declared.Instruments {
			// One point to a hall, so that the deviations are independent: anywhere in the range, some kelvin off.
			p := in.RangePa[1] * (0.05 + 0.8*r.Float64())
			temp := 18.5 + 6*r.Float64()
			o, _ := h.Observe(r, in.Name, p, temp)
			res := convs[in.Name].Convert(reading(o, in.Port == "upright-rack"))
			got, ok := res.Pressure()
			if !ok || !(res.CombinedU > 0) {
				t.Fatalf("seed %d, %s at %.1f Pa: no pressure (%v, %v)", seed, in.Name, p, res.Causes, res.Refusal)
			}
			y := tallies[in.Name]
			if y == nil {
				y = &tally{}
				tallies[in.Name] = y
			}
			z := (got - p) / res.CombinedU
			y.n++
			y.sum += z
			y.squares += z * z
			y.hope += math.Erf(res.CoverageFactor / math.Sqrt2)
			if math.Abs(got-p) <= res.ExpandedU {
				y.within++
			}
		}
	}
	var n, within int
	for _, y := range tallies {
		n, within = n+y.n, within+y.within
	}
	// k = 2 is 95.45 %; the bounds are what a bench of any size may be held to.
	if share := float64(within) / float64(n); share < 0.94 || share > 0.97 {
		t.Errorf("pooled: truth within U in %.4f of %d, want 0.94 to 0.97", share, n)
	} else {
		t.Logf("pooled: truth within U in %.4f of %d", share, n)
	}
	for name, y := range tallies {
		n := float64(y.n)
		if mean, tol := y.sum/n, 4/math.Sqrt(n); math.Abs(mean) > tol {
			t.Errorf("%s: mean deviation %.3f u_c, want 0 ± %.3f", name, mean, tol)
		}
		if chi, tol := y.squares/n, 4*math.Sqrt(2/n); math.Abs(chi-1) > tol {
			t.Errorf("%s: mean square deviation %.3f u_c², want 1 ± %.3f", name, chi, tol)
		}
		hope := y.hope / n
		if share, tol := float64(y.within)/n, 4*math.Sqrt(hope*(1-hope)/n); math.Abs(share-hope) > tol {
			t.Errorf("%s: truth within U in %.4f of the halls, want %.4f ± %.4f", name, share, hope, tol)
		}
		t.Logf("%-14s mean %+.3f u_c  mean square %.3f u_c²  within U %.4f of %.4f", name, y.sum/n, y.squares/n, float64(y.within)/n, hope)
	}
}

// exact is the hall with every value as declared and every reading without error.
func exact() simulate.Declared {
	d := simulate.TestHall()
	plain := func(inputs ...*simulate.Input) {
		for _, in := range inputs {
			in.U = 0
		}
	}
	plain(&d.Gravity, &d.Ambient.TemperatureC, &d.Ambient.PressureHPa, &d.Ambient.HumidityPct)
	d.WaterU = 0
	for i := range d.Liquids {
		plain(&d.Liquids[i].DensityKgM3, &d.Liquids[i].ExpansionPerK)
	}
	for i := range d.Instruments {
		in := &d.Instruments[i]
		for _, l := range []*simulate.Limb{&in.High, &in.Low} {
			plain(&l.SlopeDeg, &l.BoreMm, &l.ScaleZeroHeightMm, &l.TapHeightMm)
		}
		plain(&in.ScaleExpansionPerK, &in.ChargeMl, &in.BodyExpansionPerK)
		in.PositionU, in.ZeroU, in.TieU, in.TemperatureU, in.ResolutionMm = 0, 0, 0, 0, 0
	}
	return d
}

// TestWithoutErrorsTheyAgree: where nothing is drawn, the two derivations must give one number. What may be left: the
// zero's and the tie's four printed decimals of a millimetre, the simulator's air (1e-4 of the 0.14 % that it weighs),
// and 6 ppm between the two sources of the density of water from 18 °C to 25 °C: Kell, J. Chem. Eng. Data 20 (1975) 97,
// and Tanaka et al., Metrologia 38 (2001) 301.
func TestWithoutErrorsTheyAgree(t *testing.T) {
	h, err := simulate.Build(exact(), 1)
	if err != nil {
		t.Fatal(err)
	}
	convs := converters(t, h)
	r := rand.New(rand.NewPCG(1, 2))
	for _, in := range h.Declared.Instruments {
		for _, share := range []float64{0.02, 0.3, 0.85} {
			for _, temp := range []float64{18.2, 21, 24.9} {
				p := share * in.RangePa[1]
				o, _ := h.Observe(r, in.Name, p, temp)
				res := convs[in.Name].Convert(reading(o, in.Port == "upright-rack"))
				got, ok := res.Pressure()
				tol := 1e-6*p + 1e-3
				if in.Liquid == simulate.Water {
					tol += 6e-6 * p
				}
				if in.Name == "bench-total" { // oil over water: without pressure 1.4 kPa of water stand under as much oil
					tol += 6e-6 * 1400 * 0.1 // warmed by 4 K, the two sources part by a tenth of that
				}
				if !ok || math.Abs(got-p) > tol {
					t.Errorf("%s at %.1f °C: got %.5f Pa (%v), want %.5f ± %.5f", in.Name, temp, got, res.Causes, p, tol)
				}
			}
		}
	}
}
