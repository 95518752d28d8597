package convert

import (
	"math"

	"manobridge/convert/quantity"
)

// Balance is what the volumes of liquid in two digitized limbs say together: pressure moves the limbs equal and opposite, so
// what both do together is a bubble, a broken column, or liquid lost.
type Balance struct {
	// Rise is how far the liquid stands higher along both limbs, on the mean by area, than at the zero.
	//
	//	s = [A_h (x_h − x_h0) + A_l (x_l − x_l0)] / (A_h + A_l) − V (ρ₀/ρ − 1 − 3γ (t − t₀)) / (A_h + A_l)
	//
	//	x      true length along a limb, m; x_0 that at the zero
	//	A      bore area, m²
	//	V      volume of liquid, m³, where it is stated; else the last term is left out
	//	ρ, ρ₀  its density now and at the zero, γ the linear expansion of the body, 1/K
	Rise quantity.Length
	// U is its standard uncertainty by the positions now, with what their signals add, and at the zero.
	U quantity.Length
	// Charge is what Rise would be if all the liquid were gone: V / (A_h + A_l); 0 where the volume is not stated.
	Charge quantity.Length
}

// Balance gives the balance of a result of this converter; false where not both limbs are digitized, where there is no zero
// of both, or where the result has no positions.
//
// Source: conservation of the liquid's mass.
func (c *Converter) Balance(r *Result) (Balance, bool) {
	m := c.o.Shape
	if !m.High.Digitized || !m.Low.Digitized || c.o.Zero == nil || m.Chambers.Ratio != 0 || m.TapsBelow ||
		!r.High.Set || !r.Low.Set || !r.Temperature.Set {
		return Balance{}, false
	}
	area := m.High.BoreArea + m.Low.BoreArea
	if !(area > 0) {
		return Balance{}, false
	}
	true1 := func(x quantity.Length, t quantity.Temperature) float64 {
		return float64(x) * (1 + m.ScaleExpansion*(float64(t)-m.ScaleReference))
	}
	z := c.o.Zero
	s := (m.High.BoreArea*(true1(r.High.V, r.Temperature.V)-true1(z.High, z.Temperature)) +
		m.Low.BoreArea*(true1(r.Low.V, r.Temperature.V)-true1(z.Low, z.Temperature))) / area
	b := Balance{Charge: quantity.Length(m.ChargeVolume / area)}
	if m.ChargeVolume > 0 {
		now, err := c.o.Liquid.At(r.Temperature.V)
		if err != nil {
			return Balance{}, false
		}
		dt := float64(r.Temperature.V - z.Temperature)
		s -= m.ChargeVolume / area * (c.zeroDensity()/float64(now.Density) - 1 - 3*m.BodyExpansion*dt)
	}
	if !finite(s) {
		return Balance{}, false
	}
	b.Rise = quantity.Length(s)
	u := &c.o.U
	step := float64(u.Resolution) / math.Sqrt(12) // as in addPositions
	weigh := func(a float64, l LimbUncertainties, own Extra) float64 {
		return a / area * math.Sqrt(sqr(float64(l.Position.U))+sqr(float64(l.Zero.U))+sqr(step)+sqr(float64(own.U)))
	}
	b.U = quantity.Length(math.Hypot(weigh(m.High.BoreArea, u.High, r.HighExtra), weigh(m.Low.BoreArea, u.Low, r.LowExtra)))
	return b, true
}

// zeroDensity is the density of the liquid at the zero.
func (c *Converter) zeroDensity() float64 { return c.zero.state.Liquid }

func sqr(v float64) float64 { return v * v }
