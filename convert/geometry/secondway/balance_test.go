package secondway

import (
	"math"
	"math/rand/v2"
	"testing"
)

const rounds = 400

// ledger is a force balance kept by hand: the sum of its terms must vanish beside the largest of them.
type ledger struct{ sum, largest float64 }

func (l *ledger) add(v float64) {
	l.sum += v
	l.largest = max(l.largest, math.Abs(v))
}

func (l *ledger) column(rho, g, from, to float64) { l.add(-rho * g * (to - from)) }

// settled allows for the rounding of six terms, of positions through the scale, and of products.
func (l *ledger) settled(t *testing.T, what string, d any) {
	t.Helper()
	if math.Abs(l.sum) > 1e-14*16*l.largest {
		t.Fatalf("%s: forces off by %g of %g Pa in %+v (force balance, own columns)", what, l.sum, l.largest, d)
	}
}

func near(t *testing.T, what string, got, want, tol float64, d any) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Fatalf("%s: got %v, want %v ± %g in %+v", what, got, want, tol, d)
	}
}

// The three laws again, written apart from the code under test.
func density(l Liquid, t float64) float64   { return l.Density / (1 + l.Expansion*(t-l.Reference)) }
func trueLength(s Scale, t float64) float64 { return 1 + s.Expansion*(t-s.Reference) }
func pull(c Capillarity) float64            { return 4 * c.Tension * math.Cos(c.ContactAngle) }

func rng() *rand.Rand { return rand.New(rand.NewPCG(20, 26)) }

// room is the height of a point of the body, by the two rotation matrices written out: first about y, then about x.
func room(t Tilt, x, z float64) float64 {
	ry := [3][3]float64{{math.Cos(t.In), 0, -math.Sin(t.In)}, {0, 1, 0}, {math.Sin(t.In), 0, math.Cos(t.In)}}
	rx := [3][3]float64{{1, 0, 0}, {0, math.Cos(t.Across), -math.Sin(t.Across)}, {0, math.Sin(t.Across), math.Cos(t.Across)}}
	v := [3]float64{x, 0, z}
	for _, m := range [...][3][3]float64{ry, rx} {
		var w [3]float64
		for i := range w {
			for j := range v {
				w[i] += m[i][j] * v[j]
			}
		}
		v = w
	}
	return v[2]
}

func TestUTubeBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomUTube(r)
		p, err := UTube(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown := trueLength(d.Scale, d.T)
		rho := density(d.Liquid, d.T)
		h, l := p.High*grown, p.Low*grown
		var f ledger
		f.add(dp)
		f.column(d.High.Fluid.Density, d.G, d.High.Tap, h)
		f.column(rho, d.G, h, l)
		f.column(d.Low.Fluid.Density, d.G, l, d.Low.Tap)
		f.add(-pull(d.Capillarity) * (1/d.HighBore - 1/d.LowBore))
		f.settled(t, "u-tube", d)

		a := math.Pi / 4 * (d.HighBore*d.HighBore + d.LowBore*d.LowBore)
		held := math.Pi / 4 * (d.HighBore*d.HighBore*h + d.LowBore*d.LowBore*l)
		filled, tol := a*d.Rest, 1e-13
		if c := d.Charge; c.Volume > 0 { // mass: hollow below the zeros and limbs, both grown, hold the swollen charge
			k := 1 + c.BodyExpansion*(d.T-d.ZeroT)
			rho0 := density(d.Liquid, d.ZeroT)
			held = rho * (held*k*k + (c.Volume-filled)*k*k*k)
			filled = rho0 * c.Volume
		}
		near(t, "volume", held, filled, tol*filled, d)
		near(t, "head", p.Head, l-h, 1e-14, d)
	}
}

func TestInclinedReservoirBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomInclinedReservoir(r)
		p, err := InclinedReservoir(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown := trueLength(d.Scale, d.T)
		rho := density(d.Liquid, d.T)
		h, l := p.High*grown, p.Low*grown
		k := 1.0
		if d.Charge.Volume > 0 {
			k = 1 + d.Charge.BodyExpansion*(d.T-d.ZeroT)
		}
		zh, zl := room(d.Tilt, 0, h), room(d.Tilt, k*d.ZeroDistance+l*math.Cos(d.Slope), l*math.Sin(d.Slope))
		var f ledger
		f.add(dp)
		f.column(d.High.Fluid.Density, d.G, d.High.Tap, zh)
		f.column(rho, d.G, zh, zl)
		f.column(rho, d.G, 0, zl) // to size the balance by its largest column, out and back
		f.column(rho, d.G, zl, 0)
		f.column(d.Low.Fluid.Density, d.G, zl, d.Low.Tap)
		f.add(-pull(d.Capillarity) * (1/d.ReservoirBore - 1/d.Bore))
		f.settled(t, "inclined-reservoir", d)

		held := math.Pi / 4 * (d.ReservoirBore*d.ReservoirBore*h + d.Bore*d.Bore*l)
		filled := math.Pi / 4 * (d.ReservoirBore*d.ReservoirBore*d.Rest*math.Sin(d.Slope) + d.Bore*d.Bore*d.Rest)
		tol := 1e-14 * math.Pi / 4 * d.ReservoirBore * d.ReservoirBore
		if d.Charge.Volume > 0 {
			rho0 := density(d.Liquid, d.ZeroT)
			held = rho * (held*k*k + (d.Charge.Volume-filled)*k*k*k)
			filled = rho0 * d.Charge.Volume
			tol *= rho
		}
		near(t, "volume", held, filled, tol, d)
		near(t, "head", p.Head, zl-zh, 1e-14, d)
	}
}

func TestLimbPairBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomLimbPair(r)
		p, err := LimbPair(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown, tied := trueLength(d.Scale, d.T), trueLength(d.Scale, d.TieT)
		h, l := p.High*grown, p.Low*grown
		zh, zl := d.High.ZeroHeight+h*math.Sin(d.High.Slope), d.Low.ZeroHeight+l*math.Sin(d.Low.Slope)
		var f ledger
		f.add(dp)
		f.column(density(d.High.Over.Fluid, d.T), d.G, d.High.Over.Tap, zh)
		f.column(density(d.Liquid, d.T), d.G, zh, 0)
		f.column(density(d.Liquid, d.T), d.G, 0, zl)
		f.column(density(d.Low.Over.Fluid, d.T), d.G, zl, d.Low.Over.Tap)
		f.add(-pull(d.Capillarity) * (1/d.High.Bore - 1/d.Low.Bore))
		f.settled(t, "limb-pair", d)

		a, b := d.High.Bore*d.High.Bore, d.Low.Bore*d.Low.Bore
		near(t, "volume", a*h+b*l, a*d.High.Tie*tied+b*d.Low.Tie*tied, 1e-14*(a+b), d)
	}
}

func TestProfileBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomProfile(r)
		p, err := Profile(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		if d.Charge.Volume > 0 {
			continue // covered by TestBodyAndLiquidGrowingAlike
		}
		grown := trueLength(d.Scale, d.T)
		rho := density(d.Liquid, d.T)
		h, l := p.High*grown, p.Low*grown
		place := func(s float64) (x, z float64) { // by steps from point to point
			x = d.ZeroDistance
			for i := 1; i < len(d.Points); i++ {
				ds, dz := d.Points[i].Along-d.Points[i-1].Along, d.Points[i].Height-d.Points[i-1].Height
				part := (s - d.Points[i-1].Along) / ds
				if part > 1 && i < len(d.Points)-1 {
					part = 1
				}
				if part < 0 && i > 1 {
					part = 0
				}
				x += part * math.Sqrt(ds*ds-dz*dz)
				z += part * dz
			}
			return x, z
		}
		x, z := place(l)
		zh, zl := room(d.Tilt, 0, h), room(d.Tilt, x, z)
		var f ledger
		f.add(dp)
		f.column(d.High.Fluid.Density, d.G, d.High.Tap, zh)
		f.column(rho, d.G, zh, 0)
		f.column(rho, d.G, 0, zl)
		f.column(d.Low.Fluid.Density, d.G, zl, d.Low.Tap)
		f.add(-pull(d.Capillarity) * (1/d.ReservoirBore - 1/d.Bore))
		f.settled(t, "profile", d)
		_, rest := place(d.Rest)
		a, b := d.ReservoirBore*d.ReservoirBore, d.Bore*d.Bore
		near(t, "volume", a*h+b*l, a*rest+b*d.Rest, 1e-14*a, d)
	}
}

func TestInvertedUTubeBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomInvertedUTube(r)
		p, err := InvertedUTube(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown := trueLength(d.Scale, d.T)
		h, l := p.High*grown, p.Low*grown
		var f ledger
		f.add(dp)
		f.column(density(d.Line, d.T), d.G, d.HighTap, h)
		f.column(density(d.Top, d.T), d.G, h, l)
		f.column(density(d.Line, d.T), d.G, l, d.LowTap)
		f.add(pull(d.Capillarity) * (1/d.HighBore - 1/d.LowBore))
		f.settled(t, "inverted-u-tube", d)
		a, b := d.HighBore*d.HighBore, d.LowBore*d.LowBore
		near(t, "volume", a*h+b*l, (a+b)*d.Rest, 1e-13*(a+b), d)
	}
}

func TestTwoLiquidBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, dp := RandomTwoLiquid(r)
		p, err := TwoLiquid(d, dp)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown := trueLength(d.Scale, d.T)
		h, l := p.High*grown, p.Low*grown
		ratio := d.TubeBore * d.TubeBore / (d.ChamberBore * d.ChamberBore)
		ch, cl := d.Surface+(h-d.Rest)*ratio, d.Surface+(l-d.Rest)*ratio
		var f ledger
		f.add(dp)
		f.column(density(d.Line, d.T), d.G, d.HighTap, ch)
		f.column(density(d.Chamber, d.T), d.G, ch, h)
		f.column(density(d.Liquid, d.T), d.G, h, l)
		f.column(density(d.Chamber, d.T), d.G, l, cl)
		f.column(density(d.Line, d.T), d.G, cl, d.LowTap)
		f.settled(t, "two-liquid", d)
		near(t, "volume", h+l, 2*d.Rest, 1e-14, d)
	}
}

func TestSealedBalances(t *testing.T) {
	r := rng()
	for range rounds {
		d, p := RandomSealed(r)
		at, err := Sealed(d, p)
		if err != nil {
			t.Fatalf("%v in %+v", err, d)
		}
		grown := trueLength(d.Scale, d.T)
		rho := density(d.Liquid, d.T)
		low, high := at.Low*grown, at.High*grown
		switch {
		case d.Cistern == TwoLimbs:
			a, b := d.HighBore*d.HighBore, d.Bore*d.Bore
			near(t, "volume", a*high+b*low, (a+b)*d.Rest, 1e-14*(a+b), d)
		case d.ScaleCompensated: // the mark is the height above the sunken cistern
			low = high + at.Low*grown
			fallthrough
		case d.Cistern == FixedCistern:
			a, b := d.CisternBore*d.CisternBore, d.Bore*d.Bore
			near(t, "volume", a*high+b*low, b*d.Neutral*grown, 1e-14*a, d)
		default:
			near(t, "cistern", at.High, 0, 0, d)
		}
		var f ledger
		f.add(p)
		f.add(-d.Vapour)
		f.column(d.High.Fluid.Density, d.G, d.High.Tap, high)
		f.column(rho, d.G, high, low)
		f.add(-rho * d.G * (d.LowDepression - d.HighDepression))
		f.settled(t, "sealed", d)
	}
}
