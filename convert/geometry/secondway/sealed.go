package secondway

import "errors"

// Cistern is how the foot of a sealed instrument is made.
type Cistern int

// The three makes. With two limbs both menisci are read. A fixed cistern is not read: its level follows from the
// volume. The level of an adjustable one is brought to the scale's zero before each reading.
const (
	TwoLimbs Cistern = iota
	FixedCistern
	AdjustableCistern
)

// SealedDesc is a tube closed over the vapour of its own liquid (the low limb), and a limb or cistern open to the
// pressure sought.
//
// Path: from the tap down the leg to the open meniscus, into the liquid, down, across and up the closed limb to its
// meniscus, above which there is vapour and nothing else. The walk must end at the vapour pressure. Mercury does
// not wet: the column stands lower than its pressure would have it, in each limb by the depression stated.
//
//	p − ρ_g·g·(z_h − Z) − ρ·g·(z_l − z_h) − ρ·g·(D_l − D_h) = p_v
//
// Fixed cistern: filled so that at the neutral reading N the cistern stands at the scale's zero; the volume A·z_h + a·z_l
// stays. A plain scale shows z_l. A compensated scale has its divisions shortened about N: the mark R sits at
// N + (R − N)/(1 + a/A), so that R is the height above the sunken cistern. N is a reading, so the neutral
// point moves with the scale when that expands; NeutralFixed holds it at its length at the scale's reference instead.
type SealedDesc struct {
	G      float64 // m/s²
	T      float64 // K, of liquid and scale
	Scale  Scale
	Liquid Liquid
	Vapour float64 // Pa, above the closed meniscus
	Bore   float64 // m, of the closed limb
	High   Leg     // above the open meniscus

	HighBore                       float64 // m: TwoLimbs, of the open limb
	Rest                           float64 // m: TwoLimbs, height of both menisci were they level
	HighDepression, LowDepression  float64 // m of liquid, positive where the meniscus is pressed down
	Cistern                        Cistern
	CisternBore                    float64 // m: FixedCistern
	Neutral                        float64 // m: FixedCistern, a reading
	ScaleCompensated, NeutralFixed bool    // FixedCistern
}

// Sealed gives where the menisci stand under the absolute pressure p at the tap, in Pa. Of a cistern, High is its level
// above the scale's zero, as the scale would show it. Nothing is taken at a zero: ZeroHigh, ZeroLow and ZeroHead are 0.
func Sealed(d SealedDesc, p float64) (Positions, error) {
	if err := d.check(p); err != nil {
		return Positions{}, err
	}
	if d.Cistern == AdjustableCistern {
		return d.adjusted(p)
	}
	grown := d.Scale.grown(d.T)
	highArea, highFill, lowFill := circle(d.HighBore), d.Rest, d.Rest
	if d.Cistern == FixedCistern {
		highArea, highFill, lowFill = circle(d.CisternBore), 0, d.Neutral*grown
		if d.NeutralFixed {
			lowFill = d.Neutral
		}
	}
	a := circle(d.Bore)
	v := vessel{g: d.G, rho: d.Liquid.At(d.T), high: d.open(highArea, highFill), low: d.closed(a, lowFill)}
	h, l, err := v.solve(p - d.Vapour)
	if err != nil {
		return Positions{}, err
	}
	low := l / grown
	if d.ScaleCompensated {
		low = d.mark(low, a/highArea)
	}
	return Positions{High: h / grown, Low: low, Head: l - h}, nil
}

func (d SealedDesc) check(p float64) error {
	type named struct {
		name string
		v    float64
	}
	need := []named{{"gravity", d.G}, {"temperature", d.T}, {"liquid density", d.Liquid.At(d.T)}, {"bore of the closed limb", d.Bore},
		{"absolute pressure", p}}
	switch d.Cistern {
	case TwoLimbs:
		need = append(need, named{"bore of the open limb", d.HighBore})
	case FixedCistern:
		need = append(need, named{"bore of the cistern", d.CisternBore})
	}
	for _, n := range need {
		if err := positive(n.name, n.v); err != nil {
			return err
		}
	}
	if d.ScaleCompensated && d.Cistern != FixedCistern {
		return errors.New("only a fixed cistern has a compensated scale")
	}
	return nil
}

func (d SealedDesc) vertical(area, fill, depression float64) limb {
	return limb{along: []float64{0, 1}, height: []float64{0, 1}, area: area, fill: area * fill,
		jump: -d.Liquid.At(d.T) * d.G * depression}
}

func (d SealedDesc) open(area, fill float64) limb {
	l := d.vertical(area, fill, d.HighDepression)
	l.over, l.tap = d.High.Fluid.At(d.T), d.High.Tap
	return l
}

// closed has nothing above its meniscus, so where its walk ends does not matter.
func (d SealedDesc) closed(area, fill float64) limb { return d.vertical(area, fill, d.LowDepression) }

// mark is the engraving found at y along a compensated scale.
func (d SealedDesc) mark(y, ratio float64) float64 { return d.Neutral + (y-d.Neutral)*(1+ratio) }

// adjusted: the cistern's level is at 0, so the volume is free and the height of the column alone is sought.
func (d SealedDesc) adjusted(p float64) (Positions, error) {
	high, low := d.open(1, 0), d.closed(1, 0)
	h, err := balance(func(z float64) float64 {
		w := walk{g: d.G}
		w.climb(high.over, high.tap, 0)
		w.add(-high.jump)
		w.climb(d.Liquid.At(d.T), 0, z)
		w.add(low.jump)
		return p - d.Vapour + w.pressure()
	}, 0.01, 1e-19)
	if err != nil {
		return Positions{}, err
	}
	return Positions{High: 0, Low: h / d.Scale.grown(d.T), Head: h}, nil
}
