package geometry

// length is a true length along a limb with its partial derivatives; read and tie belong to the digitized limb, own tie
// to this one.
type length struct {
	x          float64 // m
	dRead      float64 // by the position read
	dTieRead   float64 // by the tie position of the digitized limb
	dTieOwn    float64 // by the tie position of this limb
	dRatio     float64 // by the area ratio
	dAlpha     float64 // by the scale expansion
	dTemp      float64 // by the temperature now
	dTieTemp   float64 // by the temperature at the tie
	dLiquid    float64 // by the liquid's density now, through the growth of the charge
	dTieLiquid float64 // by the liquid's density at the tie
	dCharge    float64 // by the charge's volume
	dBody      float64 // by the body's expansion
}

// lengths fills both limbs: read where digitized, by equal displaced volumes where not.
func (m *TwoLimb) lengths(s *State, high, low *length) {
	dt := s.Temperature - m.ScaleReference
	switch {
	case !m.follows():
		high.read(m, s.High, dt)
		low.read(m, s.Low, dt)
	case m.Low.Digitized:
		low.read(m, s.Low, dt)
		high.follow(m, s, low, m.Tie.High, m.Tie.Low, m.Low.BoreArea/m.High.BoreArea, m.High.BoreArea)
	default:
		high.read(m, s.High, dt)
		low.follow(m, s, high, m.Tie.Low, m.Tie.High, m.High.BoreArea/m.Low.BoreArea, m.Low.BoreArea)
	}
}

// read is a digitized limb: x = X (1 + α (t − t_s)).
func (l *length) read(m *TwoLimb, reading, dt float64) {
	k := 1 + m.ScaleExpansion*dt
	l.x, l.dRead = reading*k, k
	l.dAlpha, l.dTemp = reading*dt, reading*m.ScaleExpansion
}

// follow is the limb nobody reads: x_j = x′_j − q (x_i − x′_i) + ΔV/a_j, with q = a_i/a_j.
//
// The growth of the charge since the tie, liquid less body, is
//
//	ΔV = V [ρ′/ρ − (1 + α_b (t − t′))³]
//
//	V      volume of liquid at the tie             m³
//	ρ′, ρ  density at the tie and now              kg/m³
//	α_b    linear expansion of the body            1/K
//	t′, t  temperature at the tie and now          K
//
// from constant mass, V ρ′ = V_now ρ, and a cavity that grows in three directions. That the bores and the limbs grow
// with the body is left out: it changes ΔV/a by some α_b (t − t′) of itself, a thousandth. At first order and equal
// pressures it gives the zero shift V (β − 3 α_b) Δt / (A sin θ + a) of a reservoir instrument.
func (l *length) follow(m *TwoLimb, s *State, read *length, ownTie, readTie, q, area float64) {
	dtTie := m.Tie.Temperature - m.ScaleReference
	k := 1 + m.ScaleExpansion*dtTie
	if m.Tie.Level {
		ownTie = 0
	}
	moved := read.x - readTie*k
	l.x = ownTie*k - q*moved
	l.dRead = -q * read.dRead
	l.dTieRead = q * k
	l.dRatio = -moved
	l.dAlpha = ownTie*dtTie - q*(read.dAlpha-readTie*dtTie)
	l.dTemp = -q * read.dTemp
	l.dTieTemp = m.ScaleExpansion * (ownTie + q*readTie)
	if !m.Tie.Level {
		l.dTieOwn = k
	}
	if m.ChargeVolume == 0 {
		return
	}
	dt := s.Temperature - m.Tie.Temperature
	b := 1 + m.BodyExpansion*dt
	v := m.ChargeVolume / area
	growth := s.TieLiquid/s.Liquid - b*b*b
	l.x += v * growth
	l.dLiquid = -v * s.TieLiquid / (s.Liquid * s.Liquid)
	l.dTieLiquid = v / s.Liquid
	l.dTemp -= 3 * v * b * b * m.BodyExpansion
	l.dTieTemp += 3 * v * b * b * m.BodyExpansion
	l.dBody = -3 * v * b * b * dt
	l.dCharge = growth / area
}
