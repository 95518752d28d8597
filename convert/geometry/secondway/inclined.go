package secondway

// InclinedReservoirDesc is a wide upright reservoir, joined to the high pressure, and one straight limb rising at a
// slope from its scale zero, joined to the low one.
//
// In the frame of the body the reservoir's axis is at x = 0 and the scale zero at x = ZeroDistance, both at height 0.
// A point at s along the limb is at x = ZeroDistance + s·cos θ, z = s·sin θ; the reservoir's surface is met by its axis at
// z = r. The base may be tilted after the zero was taken: heights then follow from turning those points (see Tilt), and
// nothing else. Liquid: A·r + a·s stays, but for the expansion of the charge.
//
// A plane surface that cuts an upright cylinder leaves the volume A·r below it whatever its angle, r taken on
// the axis; a tilted reservoir therefore still obeys A·r, and its surface falls by cos(tilt) of what it falls along the
// axis. FreeAreaHeld says that A is the free surface as it stands and not the section of the reservoir: the surface
// then falls by volume over A, tilted or not. The two differ by 1 − cos(tilt) of the reservoir's part.
//
// Path as in UTubeDesc, the low part climbed along the slope.
type InclinedReservoirDesc struct {
	Setting
	Liquid        Liquid
	Slope         float64 // rad above the horizontal, 0 < Slope ≤ π/2, base level
	Bore          float64 // m, of the limb
	ReservoirBore float64 // m
	Rest          float64 // m along the limb, where its meniscus stands when filled at ZeroT, base level, no capillarity
	ZeroDistance  float64 // m, from the reservoir's centre to the scale zero
	FreeAreaHeld  bool
	High, Low     Leg
}

// InclinedReservoir gives where the menisci stand when p(high) − p(low) = dp, in Pa. High is the height of the
// reservoir's surface on its axis.
func InclinedReservoir(d InclinedReservoirDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	return d.positions(d.ZeroT, dp, d.vessel)
}

func (d InclinedReservoirDesc) check() error {
	if err := d.Setting.check(d.Liquid); err != nil {
		return err
	}
	if err := positive("slope", d.Slope); err != nil {
		return err
	}
	if err := positive("bore of the limb", d.Bore); err != nil {
		return err
	}
	return positive("bore of the reservoir", d.ReservoirBore)
}

func (d InclinedReservoirDesc) vessel(s state) vessel {
	low := s.straight(arm{x: d.ZeroDistance, slope: d.Slope, lean: 1, bore: d.Bore, fill: d.Rest, leg: d.Low})
	level := s
	level.tilt = Tilt{} // the fill is stated for a level base
	tube := level.straight(arm{slope: d.Slope, lean: 1, bore: d.Bore})
	rest := tube.level(d.Rest)
	return s.join(s.reservoir(d.ReservoirBore, rest, d.FreeAreaHeld, d.High), low, d.Liquid)
}

// reservoir is the upright vessel at x = 0, its surface at rest when filled.
func (s state) reservoir(bore, rest float64, freeAreaHeld bool, leg Leg) limb {
	l := s.straight(arm{slope: upright, lean: 1, bore: bore, fill: rest, leg: leg})
	if freeAreaHeld {
		l.height[0] = s.tilt.pose(0, rest) - rest
		l.height[1] = l.height[0] + 1
	}
	return l
}
