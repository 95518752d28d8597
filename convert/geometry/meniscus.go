package geometry

import "math"

// meniscus is a height above the common level with its partial derivatives: those of length, turned into height, and
// those of the limb's attitude.
type meniscus struct {
	length
	along                 float64 // true length along the limb, m
	dSlope, dTilt, dCross float64
}

// menisci fills both limbs. Where the tie is a level (both ports joined, one position seen) the height counts from there.
func (m *TwoLimb) menisci(s *State, high, low *meniscus) {
	var h, l length
	m.lengths(s, &h, &l)
	high.place(&m.High, &h, s, m.CrossTilt)
	low.place(&m.Low, &l, s, m.CrossTilt)
	if !m.follows() || !m.Tie.Level {
		high.x += m.High.ScaleZero
		low.x += m.Low.ScaleZero
		return
	}
	read, limb, tie := low, &m.Low, m.Tie.Low
	if m.High.Digitized {
		read, limb, tie = high, &m.High, m.Tie.High
	}
	dt := m.Tie.Temperature - m.ScaleReference
	k := 1 + m.ScaleExpansion*dt
	o := limb.at(tie*k, s.Tilt, m.CrossTilt)
	if limb.ZeroDistance != 0 {
		o = limb.at(tie*k, 0, 0).onAxis(s.Tilt, m.CrossTilt)
	}
	read.x -= o.z
	read.dTieRead -= o.dx * k
	read.dAlpha -= o.dx * tie * dt
	read.dTieTemp -= o.dx * tie * m.ScaleExpansion
	read.dSlope -= o.dSlope
	read.dTilt -= o.dTilt
	read.dCross -= o.dCross
}

// place turns a length along a limb into a height over the scale's zero.
func (n *meniscus) place(l *Limb, x *length, s *State, cross float64) {
	p := l.at(x.x, s.Tilt, cross)
	n.along = x.x
	n.length = length{
		x: p.z, dRead: p.dx * x.dRead, dTieRead: p.dx * x.dTieRead, dTieOwn: p.dx * x.dTieOwn, dRatio: p.dx * x.dRatio,
		dAlpha: p.dx * x.dAlpha, dTemp: p.dx * x.dTemp, dTieTemp: p.dx * x.dTieTemp, dLiquid: p.dx * x.dLiquid,
		dTieLiquid: p.dx * x.dTieLiquid, dCharge: p.dx * x.dCharge, dBody: p.dx * x.dBody,
	}
	n.dSlope, n.dTilt, n.dCross = p.dSlope, p.dTilt, p.dCross
	if l.ZeroDistance != 0 {
		sin, cos := math.Sincos(s.Tilt)
		sc, cc := math.Sincos(cross)
		n.x += l.ZeroDistance * sin * cc
		n.dTilt += l.ZeroDistance * cos * cc
		n.dCross -= l.ZeroDistance * sin * sc
	}
}
