package geometry

import (
	"fmt"
	"math"
)

// TwoLimb is the model that every two-armed kind is a case of: two limbs, each with its own slope, bore and fluid over
// the liquid, joined by one liquid of constant mass.
//
//	p(high) − p(low) = g [ρ (z_l − z_h) − ρ_h (H_h − z_h) + ρ_l (H_l − z_l)] + C_h − C_l
//
//	z_h, z_l  heights of the menisci                       m
//	H_h, H_l  heights of the taps                          m
//	ρ         density of the liquid                        kg/m³
//	ρ_h, ρ_l  densities between meniscus and tap           kg/m³
//	C_h, C_l  capillary fall of pressure at each meniscus  Pa
//
// A limb that is not digitized follows from equal displaced volumes: with x the true length along a limb, x′ the length
// at the tie, and ΔV the growth of the liquid's volume beyond that of the body since the tie,
//
//	x_j = x′_j − (x_i − x′_i) a_i/a_j + ΔV/a_j
//
// True length is the reading times the expansion of the scale: x = X (1 + α (t − t_s)).
//
// Evaluate is safe for concurrent use; the value is not changed by it.
type TwoLimb struct {
	Name      string // the kind, as configured
	Equation  string // of the kind, for a person to read
	High, Low Limb

	// Tie holds the limbs together where one position is not digitized.
	Tie Tie

	// ScaleExpansion is α in 1/K, ScaleReference the temperature t_s in K at which the scale is true.
	ScaleExpansion float64
	ScaleReference float64

	CrossTilt float64 // rad

	// Chambers are those of a two-liquid instrument; a Ratio of 0 says there are none.
	Chambers Chambers
	// TapsBelow says that the taps lie below the menisci, as under an inverted U.
	TapsBelow bool

	// ChargeVolume is the volume of liquid at the tie, m³; 0 leaves the drift of the zero with temperature out.
	ChargeVolume float64
	// BodyExpansion is the linear expansion of what holds the liquid, 1/K.
	BodyExpansion float64
}

// Tie is one pair of positions seen together. It fixes the volume only.
type Tie struct {
	High, Low   float64 // m along the scales, as read
	Temperature float64 // K
	// Level says that only the digitized position was seen, with the menisci at one height: both ports were joined. The
	// height of that level is then the common level's zero.
	Level bool
}

// Check refuses an instrument that cannot be built, with a *RangeError.
func (m *TwoLimb) Check() error {
	if err := m.High.check("high limb"); err != nil {
		return err
	}
	if err := m.Low.check("low limb"); err != nil {
		return err
	}
	if !m.High.Digitized && !m.Low.Digitized {
		return &RangeError{Quantity: "digitized limbs", Seen: "0", Allowed: "1 or 2"}
	}
	for _, v := range []float64{m.ScaleExpansion, m.CrossTilt, m.ChargeVolume, m.BodyExpansion, m.High.Tap, m.Low.Tap} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return &RangeError{Quantity: m.Name, Seen: fmt.Sprint(v), Allowed: "finite numbers"}
		}
	}
	return nil
}

// Evaluate gives the pressure of the walk for a state, the menisci, and every partial derivative. It allocates nothing
// and checks nothing: scales and ranges are the caller's.
func (m *TwoLimb) Evaluate(s *State, e *Eval) {
	*e = Eval{}
	var h, l meniscus
	m.menisci(s, &h, &l)
	e.HighX, e.LowX, e.HighZ, e.LowZ = h.along, l.along, h.x, l.x

	// The walk.
	g, rho, rhoH, rhoL := s.Gravity, s.Liquid, s.HighOver, s.LowOver
	heads := rho*(e.LowZ-e.HighZ) - rhoH*(m.High.Tap-e.HighZ) + rhoL*(m.Low.Tap-e.LowZ)

	// Its partial derivatives: densities, taps and gravity directly, all else through the two heights.
	pzh, pzl := g*(rhoH-rho), g*(rho-rhoL)
	G := &e.Grad
	if m.Chambers.Ratio != 0 {
		heads += m.chambers(s, e, &h, &l, &pzh, &pzl)
	}
	e.Pressure = g*heads + m.High.Capillary - m.Low.Capillary
	G[Gravity] = heads
	G[LiquidDensity] = g*(e.LowZ-e.HighZ) + pzh*h.dLiquid + pzl*l.dLiquid
	G[TieLiquidDensity] = pzh*h.dTieLiquid + pzl*l.dTieLiquid
	G[HighOverDensity] += -g * (m.High.Tap - e.HighZ)
	G[LowOverDensity] += g * (m.Low.Tap - e.LowZ)
	G[HighTap], G[LowTap] = -g*rhoH, g*rhoL
	G[HighScaleZero] += pzh
	G[LowScaleZero] += pzl
	G[HighSlope] += pzh * h.dSlope
	G[LowSlope] += pzl * l.dSlope
	G[Tilt] += pzh*h.dTilt + pzl*l.dTilt
	G[CrossTilt] += pzh*h.dCross + pzl*l.dCross
	G[ScaleExpansion] += pzh*h.dAlpha + pzl*l.dAlpha
	G[Temperature] = pzh*h.dTemp + pzl*l.dTemp
	G[TieTemperature] += pzh*h.dTieTemp + pzl*l.dTieTemp
	G[AreaRatio] = pzh*h.dRatio + pzl*l.dRatio
	G[ChargeVolume] = pzh*h.dCharge + pzl*l.dCharge
	G[BodyExpansion] = pzh*h.dBody + pzl*l.dBody
	if !m.follows() {
		G[HighPosition], G[LowPosition] = pzh*h.dRead, pzl*l.dRead
		return
	}
	read, tieRead, tieOwn := LowPosition, TieLowPosition, TieHighPosition
	if m.High.Digitized {
		read, tieRead, tieOwn = HighPosition, TieHighPosition, TieLowPosition
	}
	G[read] = pzh*h.dRead + pzl*l.dRead
	G[tieRead] = pzh*h.dTieRead + pzl*l.dTieRead
	G[tieOwn] = pzh*h.dTieOwn + pzl*l.dTieOwn
}

// follows says that one limb is computed from the other.
func (m *TwoLimb) follows() bool { return m.High.Digitized != m.Low.Digitized }
