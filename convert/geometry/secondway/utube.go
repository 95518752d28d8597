package secondway

import "math"

const upright = math.Pi / 2

// UTubeDesc is two vertical limbs of round bore joined at the foot, scale zeros level at height 0.
//
// Path: tap of the high limb, down its leg to the meniscus, into the liquid, down to the foot, across, up the low limb,
// out through the meniscus, up the leg to the tap of the low limb:
//
//	p_h − ρ_a·g·(z_h − Z_h) − j_h − ρ·g·(0 − z_h) − ρ·g·(z_l − 0) + j_l − ρ_b·g·(Z_l − z_l) = p_l
//
// with z the menisci, Z the taps, ρ_a and ρ_b the legs, j the jump at each meniscus. Liquid leaves one limb for the
// other: A_h·z_h + A_l·z_l stays, but for the expansion of the charge. Solved by trial of the moved volume.
//
// With a tilt the feet are no longer level: the high limb stands at x = 0 and the low one at x = Apart.
type UTubeDesc struct {
	Setting
	Liquid            Liquid
	HighBore, LowBore float64 // m
	Rest              float64 // m, height of both menisci when filled at ZeroT, had they been level
	Apart             float64 // m, from the high limb to the low one; matters only when tilted
	High, Low         Leg
}

// UTube gives where the menisci stand when p(high) − p(low) = dp, in Pa.
func UTube(d UTubeDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	return d.positions(d.ZeroT, dp, d.vessel)
}

func (d UTubeDesc) check() error {
	if err := d.Setting.check(d.Liquid); err != nil {
		return err
	}
	if err := positive("bore of the high limb", d.HighBore); err != nil {
		return err
	}
	return positive("bore of the low limb", d.LowBore)
}

func (d UTubeDesc) vessel(s state) vessel {
	high := s.straight(arm{slope: upright, lean: 1, bore: d.HighBore, fill: d.Rest, leg: d.High})
	low := s.straight(arm{x: d.Apart, slope: upright, lean: 1, bore: d.LowBore, fill: d.Rest, leg: d.Low})
	return s.join(high, low, d.Liquid)
}
