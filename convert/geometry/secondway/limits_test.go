package secondway

import (
	"math"
	"testing"
)

// plainTube is a small upright instrument of round numbers.
func plainTube() UTubeDesc {
	return UTubeDesc{
		Setting: Setting{G: 9.81, T: 293.15, ZeroT: 293.15}, Liquid: Liquid{Density: 1000},
		HighBore: 0.006, LowBore: 0.006, Rest: 0.25,
	}
}

// must unwraps a solution.
func must(t *testing.T) func(Positions, error) Positions {
	return func(p Positions, err error) Positions {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
}

func TestEqualLimbsSplitTheHead(t *testing.T) {
	d := plainTube()
	p := must(t)(UTube(d, 981))
	near(t, "head (981 Pa is 100 mm of 1000 kg/m³ at 9.81 m/s²)", p.Head, 0.1, 1e-15, d)
	near(t, "high", p.High, 0.2, 1e-15, d)
	near(t, "low", p.Low, 0.3, 1e-15, d)
	near(t, "zero", p.ZeroHead, 0, 1e-16, d)
}

func TestSwappingTheLimbsTurnsTheSign(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomUTube(r)
		p := must(t)(UTube(d, dp))
		d.HighBore, d.LowBore, d.High, d.Low = d.LowBore, d.HighBore, d.Low, d.High
		q := must(t)(UTube(d, -dp))
		near(t, "high of the swapped tube", q.High, p.Low, 1e-14, d)
		near(t, "low of the swapped tube", q.Low, p.High, 1e-14, d)
	}
}

func TestPairOfUprightLimbsIsAUTube(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomUTube(r)
		if d.Charge.Volume > 0 {
			continue
		}
		tie := d.Rest / trueLength(d.Scale, d.ZeroT)
		pair := LimbPairDesc{Setting: d.Setting, Liquid: d.Liquid, TieT: d.ZeroT,
			High: ArmDesc{Slope: upright, Bore: d.HighBore, Over: d.High, Tie: tie},
			Low:  ArmDesc{Slope: upright, Bore: d.LowBore, Over: d.Low, Tie: tie}}
		same(t, must(t)(LimbPair(pair, dp)), must(t)(UTube(d, dp)), 2e-14, d)
	}
}

func TestPairWithAReservoirIsAnInclinedReservoir(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomInclinedReservoir(r)
		if d.Charge.Volume > 0 {
			continue
		}
		grown := trueLength(d.Scale, d.ZeroT)
		pair := LimbPairDesc{Setting: d.Setting, Liquid: d.Liquid, TieT: d.ZeroT,
			High: ArmDesc{Slope: upright, Bore: d.ReservoirBore, Over: d.High, Tie: d.Rest * math.Sin(d.Slope) / grown},
			Low:  ArmDesc{Slope: d.Slope, Bore: d.Bore, Over: d.Low, Tie: d.Rest / grown, Along: d.ZeroDistance}}
		same(t, must(t)(LimbPair(pair, dp)), must(t)(InclinedReservoir(d, dp)), 1e-13, d)
	}
}

func TestStraightProfileIsAnInclinedReservoir(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomInclinedReservoir(r)
		bent := ProfileDesc{Setting: d.Setting, Liquid: d.Liquid, Bore: d.Bore, ReservoirBore: d.ReservoirBore, Rest: d.Rest,
			ZeroDistance: d.ZeroDistance, High: d.High, Low: d.Low}
		for _, s := range []float64{0, 0.07, 0.1, 0.3} {
			bent.Points = append(bent.Points, Point{s, s * math.Sin(d.Slope)})
		}
		// An upright tube's √(ds² − dh²) is the root of a rounding, some 1e-9 m, which a tilt turns into height.
		tol := 1e-13
		if d.Tilt != (Tilt{}) {
			tol = 1e-8
		}
		same(t, must(t)(Profile(bent, dp)), must(t)(InclinedReservoir(d, dp)), tol, d)
	}
}

// same compares two solutions, position by position.
func same(t *testing.T, got, want Positions, tol float64, d any) {
	t.Helper()
	near(t, "high", got.High, want.High, tol, d)
	near(t, "low", got.Low, want.Low, tol, d)
	near(t, "high at the zero", got.ZeroHigh, want.ZeroHigh, tol, d)
	near(t, "low at the zero", got.ZeroLow, want.ZeroLow, tol, d)
	near(t, "head", got.Head, want.Head, tol, d)
}

// An over-liquid of the gas's own density is no over-liquid, and one that nearly weighs what is below it needs a long way.
func TestOverLiquid(t *testing.T) {
	d := LimbPairDesc{Setting: Setting{G: 9.81, T: 293.15, ZeroT: 293.15}, Liquid: Liquid{Density: 1000}, TieT: 293.15,
		High: ArmDesc{Slope: upright, Bore: 0.006, Tie: 0.25, Over: Leg{Liquid{Density: 900}, 2}},
		Low:  ArmDesc{Slope: upright, Bore: 0.006, Tie: 0.25, Over: Leg{Liquid{Density: 900}, 2}}}
	p := must(t)(LimbPair(d, 98.1))
	near(t, "head (98.1 Pa over 100 kg/m³ of difference at 9.81 m/s²)", p.Head, 0.1, 1e-13, d)
	d.Low.Over.Fluid.Density = 1001
	if _, err := LimbPair(d, 98.1); err == nil {
		t.Error("got positions, want a refusal: what stands above is heavier (it would sink)")
	}
}

func TestCapillarityGoesWithTheZero(t *testing.T) {
	r := rng()
	seen := 0
	for range rounds {
		d, dp := RandomInclinedReservoir(r)
		if d.Capillarity.Tension == 0 || d.Charge.Volume > 0 || d.Tilt != d.ZeroTilt {
			continue
		}
		seen++
		p := must(t)(InclinedReservoir(d, dp))
		d.Capillarity = Capillarity{}
		q := must(t)(InclinedReservoir(d, dp))
		near(t, "movement from the zero with capillarity", p.Low-p.ZeroLow, q.Low-q.ZeroLow, 1e-13, d)
		if !(p.ZeroLow > q.ZeroLow) {
			t.Fatalf("got a zero at %v m, want it above %v m: a wetting liquid rises more in the narrower bore (Jurin)", p.ZeroLow, q.ZeroLow)
		}
	}
	if seen < 20 {
		t.Fatalf("got %d cases with capillarity, want 20", seen)
	}
}

// Jurin's rise: 4·σ·cos/(ρ·g·d) between a narrow bore and one a thousand times as wide.
func TestJurinRise(t *testing.T) {
	d := plainTube()
	d.LowBore, d.HighBore = 0.001, 1
	d.Capillarity = Capillarity{Tension: 0.0728}
	p := must(t)(UTube(d, 0))
	near(t, "rise of water in a 1 mm bore", p.Head, 4*0.0728/(1000*9.81)*(1/0.001-1), 1e-14, d)
}

func TestGraduated(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomGraduated(r)
		m, err := Graduated(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		steeper := d
		steeper.Slope, steeper.Reservoir = upright, d.Reservoir*3
		steeper.RestFromMark = d.RestFromMark * (math.Sin(d.Slope) + ratio(d.Bore, d.Reservoir)) / (1 + ratio(d.Bore, steeper.Reservoir))
		n, err := Graduated(steeper, dp)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "reading of a steeper tube over a wider reservoir", n.Reading-n.Zero, m.Reading-m.Zero, 1e-12*math.Abs(dp)+1e-10, d)

		d.G, d.T, d.ZeroT, d.GasDensity = d.MadeFor.G, d.MadeFor.T, d.MadeFor.T, d.MadeFor.GasDensity
		d.Liquid = Liquid{Density: d.MadeFor.LiquidDensity}
		m, err = Graduated(d, dp)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "reading as the scale was made for", m.Reading-m.Zero, dp, 1e-12*math.Abs(dp)+1e-11, d)
	}
}

func ratio(d, wide float64) float64 { return d * d / (wide * wide) }

// A liquid whose volume grows by the cube of the body's lengths fills it as before, everything larger by one factor.
func TestBodyAndLiquidGrowingAlike(t *testing.T) {
	r := rng()
	const alpha, warmer = 7e-5, 8.0
	k := 1 + alpha*warmer
	for range rounds {
		d, _ := RandomProfile(r)
		d.Setting = Setting{G: 9.81, ZeroT: 293.15, T: 293.15 + warmer, Charge: Charge{Volume: 1e-3, BodyExpansion: alpha}}
		d.Liquid = Liquid{Density: 800, Reference: 293.15, Expansion: (k*k*k - 1) / warmer}
		d.High, d.Low = Leg{}, Leg{}
		p := must(t)(Profile(d, 0))
		near(t, "low", p.Low, k*p.ZeroLow, 2e-13, d)
		near(t, "high", p.High, k*p.ZeroHigh, 2e-13, d)
	}
}

// A body that does not grow shows the swelling of the charge alone, spread over both surfaces: ΔV = V·β·Δt exactly for
// the linear form of density.
func TestChargeSwells(t *testing.T) {
	d := InclinedReservoirDesc{
		Setting: Setting{G: 9.81, ZeroT: 293.15, T: 303.15, Charge: Charge{Volume: 5e-5}},
		Liquid:  Liquid{Density: 826, Reference: 293.15, Expansion: 8e-4},
		Slope:   degrees(12), Bore: 0.004, ReservoirBore: 0.05, Rest: 0.01,
	}
	for _, fixed := range []bool{false, true} {
		d.Charge.FixedBores = fixed
		p := must(t)(InclinedReservoir(d, 0))
		a, area := math.Pi/4*0.004*0.004, math.Pi/4*0.05*0.05
		shift := 5e-5 * 8e-4 * 10 / (area*math.Sin(degrees(12)) + a)
		near(t, "drift of the zero", p.Low-p.ZeroLow, shift, 1e-14, d)
	}
}

// The surface of a tilted upright cylinder lies as far down its axis as that of a level one: a plane through a point of
// the axis cuts off the same volume whatever its angle. Summed over thin upright rods, an even grid about the axis.
func TestTiltedReservoirHoldsTheSame(t *testing.T) {
	const n, radius, level = 400, 0.02, 0.03
	gx, gy := math.Tan(degrees(1.3)), math.Tan(degrees(-2))
	level0, tilted := 0.0, 0.0
	for i := range n {
		for j := range n {
			x, y := radius*(2*(float64(i)+0.5)/n-1), radius*(2*(float64(j)+0.5)/n-1)
			if x*x+y*y <= radius*radius {
				level0 += level
				tilted += level + gx*x + gy*y
			}
		}
	}
	near(t, "volume under the tilted surface", tilted/level0, 1, 1e-10, nil) // rounding of 10⁵ rods
}

// Level, and with the zero taken as it stands, the base tilt enters as the slope alone; held free area or not differ only
// in the reservoir's part.
func TestTiltedInstrument(t *testing.T) {
	in, across := degrees(0.7), degrees(1.2)
	d := InclinedReservoirDesc{
		Setting: Setting{G: 9.81, T: 293.15, ZeroT: 293.15, Tilt: Tilt{In: in}, ZeroTilt: Tilt{In: in}},
		Liquid:  Liquid{Density: 826}, Slope: degrees(10), Bore: 0.004, ReservoirBore: 40, ZeroDistance: 0.08,
	}
	p := must(t)(InclinedReservoir(d, 200))
	near(t, "movement over a lake", p.Low-p.ZeroLow, 200/(826*9.81*(math.Sin(degrees(10)+in)+1e-8*math.Cos(in))), 1e-14, d)

	d.Tilt.Across, d.ZeroTilt.Across, d.ReservoirBore = across, across, 0.04
	p = must(t)(InclinedReservoir(d, 200))
	rise := p.Low - p.ZeroLow
	near(t, "movement, true section", rise, 200/(826*9.81*math.Cos(across)*(math.Sin(degrees(10)+in)+0.01*math.Cos(in))), 1e-14, d)
	d.FreeAreaHeld = true
	p = must(t)(InclinedReservoir(d, 200))
	near(t, "movement, free area held", p.Low-p.ZeroLow, 200/(826*9.81*(math.Cos(across)*math.Sin(degrees(10)+in)+0.01)), 1e-14, d)

	// Tilted after the zero: the scale zero rises by distance·sin, so at no pressure the meniscus runs back.
	d.FreeAreaHeld, d.ZeroTilt = false, Tilt{}
	d.Rest = 0.05
	p = must(t)(InclinedReservoir(d, 0))
	if !(p.Low < p.ZeroLow-0.08*math.Sin(in)) {
		t.Errorf("got the meniscus at %v m, want it below %v m: the far end was raised", p.Low, p.ZeroLow-0.08*math.Sin(in))
	}
}

// A cistern a thousand bores wide does not sink, whatever its scale; an adjustable one reads the height itself.
func TestCisternsAgreeWhenWide(t *testing.T) {
	d := SealedDesc{G: 9.80665, T: 273.15, Liquid: Liquid{Density: 13595.1}, Bore: 0.008, CisternBore: 8000, Neutral: 0.7}
	for _, kind := range []Cistern{FixedCistern, AdjustableCistern} {
		for _, compensated := range []bool{false, kind == FixedCistern} {
			d.Cistern, d.ScaleCompensated = kind, compensated
			p := must(t)(Sealed(d, 101325))
			near(t, "column (0.76 m of 13595.1 kg/m³ at 9.80665 m/s² is the standard atmosphere, to 0.2 µm of its rounding)", p.Low, 0.76, 3e-7, d)
		}
	}
}

func TestCompensatedScaleReadsTheHeight(t *testing.T) {
	d := SealedDesc{G: 9.80665, T: 300, Scale: Scale{1.84e-5, 293.15}, Liquid: Liquid{Density: 13530}, Bore: 0.008,
		Cistern: FixedCistern, CisternBore: 0.05, Neutral: 0.76, ScaleCompensated: true}
	for _, p := range []float64{7e4, 9.5e4, 1.05e5} {
		at := must(t)(Sealed(d, p))
		near(t, "height", at.Low*(1+1.84e-5*6.85), p/(13530*9.80665), 1e-14, d)
	}
}

// Density of air-free water at 10 °C and 25 °C, CRC Handbook (from memory): only that both ends are met is asserted.
func TestThrough(t *testing.T) {
	l := Through(283.15, 999.7026, 298.15, 997.0475)
	near(t, "density at the first temperature", l.At(283.15), 999.7026, 0, l)
	near(t, "density at the second temperature", l.At(298.15), 997.0475, 1e-12, l)
	near(t, "density, one temperature", Through(283.15, 999.7026, 283.15, 1).At(310), 999.7026, 0, nil)
}

func TestRefusals(t *testing.T) {
	bad := func(name string, err error) {
		t.Helper()
		if err == nil {
			t.Errorf("%s: got no error, want a refusal", name)
		}
	}
	d := plainTube()
	_, err := UTube(d, math.NaN())
	bad("pressure NaN", err)
	d.G = 0
	_, err = UTube(d, 1)
	bad("no gravity", err)
	d = plainTube()
	d.LowBore = -1
	_, err = UTube(d, 1)
	bad("bore −1 m", err)
	d = plainTube()
	d.High.Fluid, d.Low.Fluid = Liquid{Density: 1200}, Liquid{Density: 1200}
	_, err = UTube(d, 1)
	bad("heavier legs", err)
	_, err = Profile(ProfileDesc{Setting: plainTube().Setting, Liquid: Liquid{Density: 1}, Points: []Point{{0, 0}, {1, 2}}, Bore: 1, ReservoirBore: 1}, 1)
	bad("tube that climbs farther than it is long", err)
	_, err = Sealed(SealedDesc{}, 1)
	bad("empty description", err)
}

func BenchmarkInclinedReservoir(b *testing.B) {
	d, dp := RandomInclinedReservoir(rng())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := InclinedReservoir(d, dp); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkProfile(b *testing.B) {
	d, dp := RandomProfile(rng())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Profile(d, dp); err != nil {
			b.Fatal(err)
		}
	}
}
