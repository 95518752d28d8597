package geometry_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"manobridge/convert/geometry"
	"manobridge/convert/geometry/secondway"
)

// The production model against a second derivation, kind by kind, over 10,000 random instruments each. secondway was
// written by another person who had not seen this package, from force and volume balance alone: it knows the true
// pressure and finds where the menisci stand by root finding along the fluid path; here the pressure is computed from
// those positions in closed form. The two share no code, and neither was changed to agree with the other.
const secondWayCases = 10000

// agree holds the pressure of a kind against the true one, relative to the largest column of the walk.
func agree(t *testing.T, i int, m *geometry.TwoLimb, now, zero *geometry.State, offset, want float64) {
	t.Helper()
	if err := m.Check(); err != nil {
		t.Fatalf("case %d: %v", i, err)
	}
	var e, z geometry.Eval
	m.Evaluate(now, &e)
	largest := m.Walk(now, &e).Largest(now.Gravity)
	if zero != nil {
		m.Evaluate(zero, &z)
		largest = math.Max(largest, m.Walk(zero, &z).Largest(zero.Gravity))
	}
	if got := e.Pressure - z.Pressure + offset; math.Abs(got-want) > 1e-9*math.Max(largest, math.Abs(want)) {
		t.Fatalf("case %d: got %v Pa, want %v Pa ± 1e-9 of the largest column, %v Pa", i, got, want, largest)
	}
}

// states turns what stood where, and the setting, into the two states.
func states(s secondway.Setting, p secondway.Positions, liquid, high, low secondway.Liquid) (now, zero geometry.State) {
	now = geometry.State{High: p.High, Low: p.Low, Temperature: s.T, Gravity: s.G, Tilt: s.Tilt.In,
		Liquid: liquid.At(s.T), HighOver: high.At(s.T), LowOver: low.At(s.T), TieLiquid: liquid.At(s.ZeroT)}
	zero = geometry.State{High: p.ZeroHigh, Low: p.ZeroLow, Temperature: s.ZeroT, Gravity: s.G, Tilt: s.ZeroTilt.In,
		Liquid: liquid.At(s.ZeroT), HighOver: high.At(s.ZeroT), LowOver: low.At(s.ZeroT), TieLiquid: liquid.At(s.ZeroT)}
	return now, zero
}

func common(m *geometry.TwoLimb, s secondway.Setting) {
	m.ScaleExpansion, m.ScaleReference = s.Scale.Expansion, s.Scale.Reference
	m.ChargeVolume, m.BodyExpansion = s.Charge.Volume, s.Charge.BodyExpansion
	m.CrossTilt = s.Tilt.Across
}

// solve runs the second way, and fails where it found nothing.
func solve(t *testing.T, i int, p secondway.Positions, err error) secondway.Positions {
	t.Helper()
	if err != nil {
		t.Fatalf("case %d: second way: %v", i, err)
	}
	return p
}

func TestSecondWayUTube(t *testing.T) {
	rng := rand.New(rand.NewPCG(101, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomUTube(rng)
		d.Charge.FixedBores = true // as here: see TwoLimb's growth of the charge
		p, err := secondway.UTube(d, dp)
		p = solve(t, i, p, err)
		now, zero := states(d.Setting, p, d.Liquid, d.High.Fluid, d.Low.Fluid)
		m := geometry.UTube(d.HighBore, d.LowBore, d.High.Tap, d.Low.Tap, true, true)
		common(m, d.Setting)
		agree(t, i, m, &now, &zero, 0, dp)
	}
}

func TestSecondWayInclinedReservoir(t *testing.T) {
	rng := rand.New(rand.NewPCG(102, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomInclinedReservoir(rng)
		d.Charge.FixedBores = true // as here: see TwoLimb's growth of the charge
		p, err := secondway.InclinedReservoir(d, dp)
		p = solve(t, i, p, err)
		now, zero := states(d.Setting, p, d.Liquid, d.High.Fluid, d.Low.Fluid)
		m := geometry.Reservoir(d.Slope, d.Bore, math.Pow(d.Bore/d.ReservoirBore, 2), d.High.Tap, d.Low.Tap)
		common(m, d.Setting)
		m.Tie.Low, m.Tie.Temperature = p.ZeroLow, d.ZeroT
		if d.ZeroTilt != d.Tilt { // the zero is older than the tilt
			m.Low.ZeroDistance = d.ZeroDistance
		}
		agree(t, i, m, &now, &zero, 0, dp)
	}
}

func TestSecondWayProfile(t *testing.T) {
	rng := rand.New(rand.NewPCG(103, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomProfile(rng)
		d.Charge.FixedBores = true // as here: see TwoLimb's growth of the charge
		p, err := secondway.Profile(d, dp)
		p = solve(t, i, p, err)
		now, zero := states(d.Setting, p, d.Liquid, d.High.Fluid, d.Low.Fluid)
		along, height := make([]float64, len(d.Points)), make([]float64, len(d.Points))
		for k, q := range d.Points {
			along[k], height[k] = q.Along, q.Height
		}
		bent, err := geometry.NewProfile(along, height)
		if err != nil {
			t.Fatal(err)
		}
		m := geometry.BentReservoir(bent, d.Bore, math.Pow(d.Bore/d.ReservoirBore, 2), d.High.Tap, d.Low.Tap)
		common(m, d.Setting)
		m.Tie.Low, m.Tie.Temperature = p.ZeroLow, d.ZeroT
		if d.ZeroTilt != d.Tilt { // the zero is older than the tilt
			m.Low.ZeroDistance = d.ZeroDistance
		}
		agree(t, i, m, &now, &zero, 0, dp)
	}
}

func TestSecondWayInvertedUTube(t *testing.T) {
	rng := rand.New(rand.NewPCG(104, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomInvertedUTube(rng)
		p, err := secondway.InvertedUTube(d, dp)
		p = solve(t, i, p, err)
		now, zero := states(d.Setting, p, d.Top, d.Line, d.Line)
		m := geometry.InvertedUTube(d.HighBore, d.LowBore, d.HighTap, d.LowTap)
		common(m, d.Setting)
		agree(t, i, m, &now, &zero, 0, dp)
	}
}

func TestSecondWayTwoLiquid(t *testing.T) {
	rng := rand.New(rand.NewPCG(105, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomTwoLiquid(rng)
		p, err := secondway.TwoLiquid(d, dp)
		p = solve(t, i, p, err)
		now, zero := states(d.Setting, p, d.Liquid, d.Chamber, d.Chamber)
		now.Line, zero.Line = d.Line.At(d.T), d.Line.At(d.ZeroT)
		m := geometry.TwoLiquid(d.TubeBore, d.ChamberBore, d.HighTap)
		m.Low.Tap = d.HighTap
		common(m, d.Setting)
		m.Tie = geometry.Tie{High: p.ZeroHigh, Low: p.ZeroLow, Temperature: d.ZeroT}
		agree(t, i, m, &now, &zero, 0, dp)
	}
}

// Three ways to read the same pair: both limbs, the low one alone, the high one alone with the other from the tie.
func TestSecondWayLimbPair(t *testing.T) {
	rng := rand.New(rand.NewPCG(106, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomLimbPair(rng)
		p, err := secondway.LimbPair(d, dp)
		p = solve(t, i, p, err)
		arm := func(a secondway.ArmDesc) geometry.Limb {
			// The zero would remove the capillary jumps; here there is none, so they are stated: 4 σ cos φ / d.
			c := 4 * d.Capillarity.Tension * math.Cos(d.Capillarity.ContactAngle) / a.Bore
			return geometry.Limb{Slope: a.Slope, BoreArea: geometry.BoreArea(a.Bore), ScaleZero: a.ZeroHeight, Tap: a.Over.Tap, Capillary: c}
		}
		now, _ := states(d.Setting, p, d.Liquid, d.High.Over.Fluid, d.Low.Over.Fluid)
		m := geometry.LimbPair(arm(d.High), arm(d.Low), geometry.Tie{High: d.High.Tie, Low: d.Low.Tie, Temperature: d.TieT})
		common(m, d.Setting)
		for _, read := range [][2]bool{{true, true}, {false, true}, {true, false}} {
			m.High.Digitized, m.Low.Digitized = read[0], read[1]
			agree(t, i, m, &now, nil, 0, dp)
		}
	}
}

func TestSecondWaySealed(t *testing.T) {
	rng := rand.New(rand.NewPCG(107, 0))
	kinds := map[secondway.Cistern]geometry.Cistern{secondway.TwoLimbs: geometry.NoCistern,
		secondway.FixedCistern: geometry.FixedCistern, secondway.AdjustableCistern: geometry.AdjustableCistern}
	for i := range secondWayCases {
		d, pressure := secondway.RandomSealed(rng)
		// A plain scale: the neutral length is that at the scale's reference. A compensated one is divided about it and moves with it.
		d.NeutralFixed = !d.ScaleCompensated
		p, err := secondway.Sealed(d, pressure)
		p = solve(t, i, p, err)
		cistern := kinds[d.Cistern]
		if d.ScaleCompensated {
			cistern = geometry.AdjustableCistern // the reading is the height over the cistern, wherever that stands
		}
		m := geometry.Sealed(d.HighBore, d.Bore, math.Pow(d.Bore/d.CisternBore, 2), d.Neutral, d.High.Tap, cistern)
		if cistern != geometry.NoCistern {
			m.High.Digitized = false
		}
		rho := d.Liquid.At(d.T)
		m.High.Capillary, m.Low.Capillary = -rho*d.G*d.HighDepression, -rho*d.G*d.LowDepression
		m.ScaleExpansion, m.ScaleReference = d.Scale.Expansion, d.Scale.Reference
		m.Tie.Temperature = d.Scale.Reference
		now := geometry.State{High: p.High, Low: p.Low, Temperature: d.T, Gravity: d.G, Liquid: rho, HighOver: d.High.Fluid.At(d.T)}
		if d.ScaleCompensated {
			// Only the gas column over the cistern knows where it stands; it is left to the reading's zero: at most
			// 1.25 kg/m³ over some millimetres.
			now.HighOver = 0
			var e geometry.Eval
			m.Evaluate(&now, &e)
			gas := d.High.Fluid.At(d.T) * d.G * math.Abs(d.High.Tap-p.High)
			if got := e.Pressure + d.Vapour; math.Abs(got-pressure) > gas+1e-9*pressure {
				t.Fatalf("case %d: got %v Pa, want %v Pa ± the gas column of %v Pa", i, got, pressure, gas)
			}
			continue
		}
		agree(t, i, m, &now, nil, d.Vapour, pressure)
	}
}

func TestSecondWayGraduated(t *testing.T) {
	rng := rand.New(rand.NewPCG(108, 0))
	for i := range secondWayCases {
		d, dp := secondway.RandomGraduated(rng)
		marks, err := secondway.Graduated(d, dp)
		if err != nil {
			t.Fatalf("case %d: second way: %v", i, err)
		}
		c := geometry.MarkHeight(1, d.MadeFor.LiquidDensity, d.MadeFor.GasDensity, d.MadeFor.G)
		m := geometry.Graduated(10)
		m.ScaleExpansion, m.ScaleReference = d.ScaleGrows, d.MadeFor.T
		m.Tie.Low, m.Tie.Temperature = marks.Zero*c, d.ZeroT
		now := geometry.State{Low: marks.Reading * c, Temperature: d.T, Gravity: d.G, Liquid: d.Liquid.At(d.T), HighOver: d.GasDensity, LowOver: d.GasDensity}
		agree(t, i, m, &now, nil, 0, dp)
	}
}
