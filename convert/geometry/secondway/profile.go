package secondway

import (
	"errors"
	"math"
)

// Point is a vertex of a bent tube: how far along its scale, how high above the common level.
type Point struct {
	Along, Height float64 // m
}

// ProfileDesc is a reservoir, joined to the high pressure, and a tube of uniform bore bent as its points say, straight
// between them. Beyond the first and last point the end stretches run on.
//
// The path climbs the tube vertex by vertex. Between vertices a length ds rises by dh, so along the base it goes
// √(ds² − dh²); that gives every vertex its place x, and a tilt turns (x, height) as for any point of the body.
// The first point is at x = ZeroDistance from the reservoir's axis. Volume: A·r + a·s stays.
type ProfileDesc struct {
	Setting
	Liquid        Liquid
	Points        []Point // in order, at least two
	Bore          float64 // m
	ReservoirBore float64 // m
	Rest          float64 // m along the tube, where its meniscus stands when filled at ZeroT, base level, no capillarity
	ZeroDistance  float64 // m
	FreeAreaHeld  bool    // see InclinedReservoirDesc
	High, Low     Leg
}

// Profile gives where the menisci stand when p(high) − p(low) = dp, in Pa.
func Profile(d ProfileDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	return d.positions(d.ZeroT, dp, d.vessel)
}

func (d ProfileDesc) check() error {
	if err := d.Setting.check(d.Liquid); err != nil {
		return err
	}
	if len(d.Points) < 2 {
		return errors.New("a tube needs at least two points")
	}
	for i := 1; i < len(d.Points); i++ {
		ds, dh := d.Points[i].Along-d.Points[i-1].Along, d.Points[i].Height-d.Points[i-1].Height
		if !(ds > 0 && dh > 0 && dh <= ds*(1+1e-12)) {
			return errors.New("each point must be farther along and higher than the one before, and not higher than it is farther")
		}
	}
	if err := positive("bore of the tube", d.Bore); err != nil {
		return err
	}
	return positive("bore of the reservoir", d.ReservoirBore)
}

func (d ProfileDesc) vessel(s state) vessel {
	level := s
	level.tilt = Tilt{}
	flat := d.tube(level)
	rest := flat.level(d.Rest)
	return s.join(s.reservoir(d.ReservoirBore, rest, d.FreeAreaHeld, d.High), d.tube(s), d.Liquid)
}

func (d ProfileDesc) tube(s state) limb {
	k := s.bodyGrown()
	l := limb{
		area: circle(d.Bore) * k * k, fill: circle(d.Bore) * d.Rest,
		over: d.Low.Fluid.At(s.t), tap: d.Low.Tap,
		jump:  s.set.Capillarity.jump(d.Bore),
		along: make([]float64, len(d.Points)), height: make([]float64, len(d.Points)),
	}
	x := d.ZeroDistance
	for i, p := range d.Points {
		if i > 0 {
			ds, dh := p.Along-d.Points[i-1].Along, p.Height-d.Points[i-1].Height
			x += math.Sqrt(max(0, ds*ds-dh*dh))
		}
		l.along[i], l.height[i] = k*p.Along, s.tilt.pose(k*x, k*p.Height)
	}
	return l
}
