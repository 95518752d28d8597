package secondway

import "fmt"

// ArmDesc is one limb of a pair: its own slope, bore, scale zero, and what stands above its meniscus.
type ArmDesc struct {
	Slope      float64 // rad above the horizontal
	Bore       float64 // m; of a reservoir, its own
	ZeroHeight float64 // m, of the scale zero above the common level, base level
	Along      float64 // m, horizontal place of the scale zero; matters only when tilted
	LeansBack  bool    // it rises towards −x; matters only when tilted
	Over       Leg     // fills the limb from the meniscus up to its tap
	Tie        float64 // m, what its scale showed when the pair was seen together
}

// LimbPairDesc is any two limbs joined below.
//
// The one thing known of the filling is a pair of positions seen together, at any pressure and at TieT. It fixes the
// volume above the scale zeros, a_h·s_h + a_l·s_l, and nothing else: whatever leaves one limb enters the other. What
// stands above each meniscus fills its limb to a tap at a fixed height; it flows in or out there, so its
// amount is free. Capillarity is a jump at each meniscus.
//
// The zero is the same instrument with both taps at one pressure, at ZeroT.
type LimbPairDesc struct {
	Setting
	Liquid    Liquid
	High, Low ArmDesc
	TieT      float64 // K
}

// LimbPair gives where the menisci stand when p(high) − p(low) = dp, in Pa.
func LimbPair(d LimbPairDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	return d.positions(d.TieT, dp, d.vessel)
}

func (d LimbPairDesc) check() error {
	if err := d.Setting.check(d.Liquid); err != nil {
		return err
	}
	if err := positive("temperature of the tie", d.TieT); err != nil {
		return err
	}
	for _, a := range [...]ArmDesc{d.High, d.Low} {
		if err := positive("slope", a.Slope); err != nil {
			return err
		}
		if err := positive("bore", a.Bore); err != nil {
			return err
		}
		if over, rho := a.Over.Fluid.At(d.T), d.Liquid.At(d.T); over >= rho {
			return fmt.Errorf("what stands above weighs %v kg/m³, the liquid below %v", over, rho)
		}
	}
	return nil
}

func (d LimbPairDesc) vessel(s state) vessel {
	return s.join(d.limb(s, d.High), d.limb(s, d.Low), d.Liquid)
}

func (d LimbPairDesc) limb(s state, a ArmDesc) limb {
	lean := 1.0
	if a.LeansBack {
		lean = -1
	}
	return s.straight(arm{x: a.Along, z: a.ZeroHeight, slope: a.Slope, lean: lean, bore: a.Bore,
		fill: a.Tie * d.Scale.grown(d.TieT), leg: a.Over})
}
