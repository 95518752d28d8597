package secondway

import (
	"math"
	"math/rand/v2"
)

// The Random functions give instruments that could be built, and with each a pressure that keeps its menisci on a
// sensible length of scale and at least a fiftieth of it away from rest. Each effect is switched on in some of them.
//
// Where only one meniscus of a reservoir instrument or a u-tube is read, the other is taken to have been level with it
// at the zero. That is only exactly harmless where what made them unlevel acts alike now and then. So RandomUTube,
// RandomInclinedReservoir, RandomProfile and RandomGraduated bring capillarity, unlike legs and a rest mark other than
// 0 of an engraved scale only together with T = ZeroT. RandomLimbPair needs no such care: its tie fixes both.
// Tilt comes only with like legs and without charge.

func between(rng *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }

func oneIn(rng *rand.Rand, n int) bool { return rng.IntN(n) == 0 }

func degrees(v float64) float64 { return v * math.Pi / 180 }

func randomSetting(rng *rand.Rand) Setting {
	s := Setting{G: between(rng, 9.78, 9.833), T: between(rng, 278, 313)}
	s.ZeroT = s.T
	if !oneIn(rng, 3) {
		s.ZeroT = between(rng, 285, 303)
	}
	if oneIn(rng, 2) {
		s.Scale = Scale{Expansion: between(rng, 5e-6, 9e-5), Reference: between(rng, 288, 296)}
	}
	return s
}

func (s Setting) steady() bool { return s.T == s.ZeroT }

func randomCapillarity(rng *rand.Rand) Capillarity {
	return Capillarity{Tension: between(rng, 0.02, 0.073), ContactAngle: degrees(between(rng, 0, 60))}
}

func randomLiquid(rng *rand.Rand) Liquid {
	return Liquid{Density: between(rng, 780, 3000), Reference: between(rng, 288, 298), Expansion: between(rng, 2e-4, 1.2e-3)}
}

func randomGas(rng *rand.Rand) Liquid { return Liquid{Density: between(rng, 0.9, 1.25)} }

// randomLegs gives gas: alike, or where steady sometimes warm on one side with taps at unlike heights.
func randomLegs(rng *rand.Rand, steady bool) (high, low Leg) {
	high.Fluid = randomGas(rng)
	low.Fluid = high.Fluid
	if steady && oneIn(rng, 2) {
		low.Fluid = randomGas(rng)
		high.Tap, low.Tap = between(rng, 0.8, 2), between(rng, 0.8, 2)
	}
	return high, low
}

// pressure gives a pressure that moves the low meniscus by some `by` metres along its limb from where it rests. It need
// not be exact: it only chooses the case.
func (v vessel) pressure(by float64) float64 {
	x := by * v.low.area
	return v.rise(0) - v.rise(x)
}

func away(rng *rand.Rand, lo, hi float64) float64 {
	span := hi - lo
	for {
		if m := between(rng, lo, hi); math.Abs(m) > span/50 {
			return m
		}
	}
}

// RandomUTube gives a U-tube and a pressure in Pa.
func RandomUTube(rng *rand.Rand) (UTubeDesc, float64) {
	d := UTubeDesc{
		Setting: randomSetting(rng), Liquid: randomLiquid(rng),
		HighBore: between(rng, 0.003, 0.014), LowBore: between(rng, 0.003, 0.014), Rest: between(rng, 0.15, 0.5),
	}
	if oneIn(rng, 2) {
		d.LowBore = d.HighBore
	}
	d.High, d.Low = randomLegs(rng, d.steady())
	switch {
	case !d.steady():
		if oneIn(rng, 3) {
			d.Charge = Charge{Volume: 2*circle(d.HighBore)*d.Rest + between(rng, 2e-6, 2e-5), BodyExpansion: between(rng, 5e-6, 8e-5)}
		}
	case oneIn(rng, 3): // wet legs: a heavy liquid under line liquids
		d.Liquid = Liquid{Density: 13545.9, Reference: 293.15, Expansion: 1.81e-4}
		d.High = Leg{Liquid{Density: between(rng, 780, 1100)}, between(rng, 1, 3)}
		d.Low = Leg{Liquid{Density: between(rng, 780, 1100)}, between(rng, 1, 3)}
	default:
		d.Capillarity = randomCapillarity(rng)
	}
	narrow := min(1, circle(d.HighBore)/circle(d.LowBore)) // so that the high limb moves no farther than Rest
	return d, d.vessel(d.now(d.ZeroT)).pressure(away(rng, -0.8, 0.8) * d.Rest * narrow)
}

func randomReservoir(rng *rand.Rand, bore float64) float64 {
	return bore / math.Sqrt(between(rng, 0.0005, 0.1))
}

// randomBase fills in what reservoir instruments share beside their tube.
func randomBase(rng *rand.Rand, s *Setting, rest, reservoirBore float64) (high, low Leg, distance float64) {
	switch rng.IntN(4) {
	case 0:
		s.Tilt = Tilt{degrees(between(rng, -1, 1)), degrees(between(rng, -2, 2))}
		if oneIn(rng, 2) {
			s.ZeroTilt = s.Tilt
		}
		high, low = randomLegs(rng, false)
		return high, low, between(rng, 0.01, 0.15)
	case 1:
		if !s.steady() {
			depth := rest + between(rng, 0.01, 0.04)
			s.Charge = Charge{Volume: circle(reservoirBore) * depth, BodyExpansion: between(rng, 5e-6, 8e-5)}
		}
	}
	if s.steady() && oneIn(rng, 2) {
		s.Capillarity = randomCapillarity(rng)
	}
	high, low = randomLegs(rng, s.steady())
	return high, low, 0
}

// RandomInclinedReservoir gives a reservoir with one sloped limb of 0.1 m to 0.5 m, and a pressure in Pa.
func RandomInclinedReservoir(rng *rand.Rand) (InclinedReservoirDesc, float64) {
	d := InclinedReservoirDesc{
		Setting: randomSetting(rng), Liquid: randomLiquid(rng),
		Slope: degrees(between(rng, 3, 60)), Bore: between(rng, 0.002, 0.008), Rest: between(rng, 0, 0.03),
	}
	if oneIn(rng, 4) {
		d.Slope = upright
	}
	d.ReservoirBore = randomReservoir(rng, d.Bore)
	d.High, d.Low, d.ZeroDistance = randomBase(rng, &d.Setting, d.Rest*math.Sin(d.Slope), d.ReservoirBore)
	return d, d.vessel(d.now(d.ZeroT)).pressure(away(rng, -d.Rest, between(rng, 0.1, 0.5)))
}

// RandomProfile gives a reservoir with a tube of two to five stretches, each steeper than the one before, and a pressure.
func RandomProfile(rng *rand.Rand) (ProfileDesc, float64) {
	d := ProfileDesc{Setting: randomSetting(rng), Liquid: randomLiquid(rng), Bore: between(rng, 0.002, 0.008), Points: []Point{{}}}
	n := 2 + rng.IntN(4)
	for i := range n {
		ds := between(rng, 0.05, 0.15)
		slope := degrees(between(rng, 3+85*float64(i)/float64(n), 3+85*float64(i+1)/float64(n)))
		last := d.Points[i]
		d.Points = append(d.Points, Point{last.Along + ds, last.Height + ds*math.Sin(slope)})
	}
	d.Rest = between(rng, 0, 0.03)
	d.ReservoirBore = randomReservoir(rng, d.Bore)
	d.High, d.Low, d.ZeroDistance = randomBase(rng, &d.Setting, d.Rest, d.ReservoirBore)
	return d, d.vessel(d.now(d.ZeroT)).pressure(away(rng, -d.Rest, d.Points[n].Along-d.Rest-0.005))
}

// RandomLimbPair gives two limbs of any slope and bore under unlike liquids, tied by a pair of positions, and a
// pressure in Pa. One in five has a reservoir for its high limb.
func RandomLimbPair(rng *rand.Rand) (LimbPairDesc, float64) {
	d := LimbPairDesc{Setting: randomSetting(rng), Liquid: randomLiquid(rng)}
	d.TieT = between(rng, 285, 303)
	arm := func() ArmDesc {
		a := ArmDesc{
			Slope: degrees(between(rng, 5, 90)), Bore: between(rng, 0.003, 0.014),
			ZeroHeight: between(rng, -0.03, 0.03), Tie: between(rng, 0.15, 0.4), Over: Leg{Fluid: randomGas(rng)},
		}
		if oneIn(rng, 3) {
			a.Slope = upright
		}
		return a
	}
	d.High, d.Low = arm(), arm()
	if oneIn(rng, 5) {
		d.High.Slope, d.High.Bore = upright, d.Low.Bore/math.Sqrt(between(rng, 0.001, 0.05))
	}
	room := min(1, d.High.Bore*d.High.Bore/(d.Low.Bore*d.Low.Bore))
	by := away(rng, -0.12, 0.3) * room
	top := func(a ArmDesc) float64 { return a.ZeroHeight + (a.Tie+0.5)*math.Sin(a.Slope) }
	for _, a := range [...]*ArmDesc{&d.High, &d.Low} {
		a.Over.Tap = top(*a) + between(rng, 0.05, 0.5)
		if oneIn(rng, 2) { // over-liquid, lighter by a margin that no temperature here closes
			a.Over.Fluid = Liquid{Density: d.Liquid.Density * between(rng, 0.5, 0.9), Reference: 293.15, Expansion: between(rng, 2e-4, 1e-3)}
		}
	}
	if oneIn(rng, 2) {
		d.Capillarity = randomCapillarity(rng)
	}
	v := d.vessel(d.now(d.TieT))
	return d, -v.rise(by * v.low.area)
}

// RandomInvertedUTube gives an inverted U-tube, air or oil on top, and a pressure in Pa.
func RandomInvertedUTube(rng *rand.Rand) (InvertedUTubeDesc, float64) {
	d := InvertedUTubeDesc{
		Setting: randomSetting(rng), Top: randomGas(rng),
		Line:     Liquid{Density: between(rng, 950, 1100), Reference: 293.15, Expansion: between(rng, 2e-4, 5e-4)},
		HighBore: between(rng, 0.004, 0.012), LowBore: between(rng, 0.004, 0.012), Rest: between(rng, 0.2, 0.4), Crown: 1,
		HighTap: between(rng, -0.5, 0), LowTap: between(rng, -0.5, 0),
	}
	if oneIn(rng, 2) {
		d.Top = Liquid{Density: between(rng, 750, 900), Reference: 293.15, Expansion: between(rng, 7e-4, 1.1e-3)}
	}
	if oneIn(rng, 2) {
		d.LowTap = d.HighTap
	}
	if oneIn(rng, 2) {
		d.Capillarity = randomCapillarity(rng)
	}
	move := away(rng, -0.18, 0.18) * min(circle(d.HighBore), circle(d.LowBore))
	return d, -d.rise(move, d.T)
}

// RandomTwoLiquid gives a narrow U under two wide chambers, and a pressure in Pa.
func RandomTwoLiquid(rng *rand.Rand) (TwoLiquidDesc, float64) {
	d := TwoLiquidDesc{
		Setting: randomSetting(rng), Line: randomGas(rng),
		Chamber:  Liquid{Density: between(rng, 780, 1000), Reference: 293.15, Expansion: between(rng, 2e-4, 1e-3)},
		TubeBore: between(rng, 0.003, 0.01), Rest: between(rng, 0.15, 0.3),
	}
	d.Liquid = Liquid{Density: d.Chamber.Density * between(rng, 1.08, 1.6), Reference: 293.15, Expansion: between(rng, 2e-4, 1e-3)}
	d.ChamberBore = randomReservoir(rng, d.TubeBore)
	d.Surface = d.Rest + between(rng, 0.2, 0.4)
	return d, -d.rise(away(rng, -0.14, 0.14)*circle(d.TubeBore), d.T)
}

// RandomSealed gives a mercury instrument with a sealed reference, of any make of foot, and a pressure in Pa absolute.
func RandomSealed(rng *rand.Rand) (SealedDesc, float64) {
	d := SealedDesc{
		G: between(rng, 9.78, 9.833), T: between(rng, 278, 308),
		Liquid: Liquid{Density: 13545.9, Reference: 293.15, Expansion: 1.81e-4}, Vapour: between(rng, 0, 0.3),
		Bore: between(rng, 0.006, 0.014), Cistern: Cistern(rng.IntN(3)), LowDepression: between(rng, 0, 0.001),
	}
	if oneIn(rng, 2) {
		d.Scale = Scale{Expansion: 1.84e-5, Reference: 293.15}
	}
	if oneIn(rng, 2) {
		d.High = Leg{randomGas(rng), between(rng, 0, 1)}
	}
	switch d.Cistern {
	case TwoLimbs:
		d.HighBore, d.Rest = between(rng, 0.006, 0.014), between(rng, 0.45, 0.55)
		d.HighDepression = between(rng, 0, 0.001)
	case FixedCistern:
		d.CisternBore, d.Neutral, d.ScaleCompensated = d.Bore/math.Sqrt(between(rng, 0.005, 0.05)), between(rng, 0.7, 0.77), oneIn(rng, 2)
	}
	return d, between(rng, 6e4, 1.08e5)
}

// RandomGraduated gives an instrument with an engraved scale, and a pressure in Pa.
func RandomGraduated(rng *rand.Rand) (GraduatedDesc, float64) {
	s := randomSetting(rng)
	liquid := randomLiquid(rng)
	bore := between(rng, 0.002, 0.008)
	d := GraduatedDesc{
		G: s.G, T: s.T, ZeroT: s.ZeroT, Liquid: liquid, GasDensity: between(rng, 0.9, 1.25), ScaleGrows: s.Scale.Expansion,
		MadeFor: MadeFor{LiquidDensity: liquid.Density * between(rng, 0.97, 1.03), G: between(rng, 9.78, 9.833),
			GasDensity: between(rng, 0, 1.25), T: between(rng, 288, 298)},
		Slope: degrees(between(rng, 5, 90)), Bore: bore, Reservoir: randomReservoir(rng, bore),
	}
	if s.steady() {
		d.RestFromMark = between(rng, -0.01, 0.01)
	}
	i := d.filled()
	return d, i.vessel(i.now(d.ZeroT)).pressure(away(rng, -0.02, 0.4))
}
