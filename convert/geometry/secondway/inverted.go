package secondway

// InvertedUTubeDesc is a U upside down: two vertical limbs joined at the crown, a lighter fluid on top, the line
// fluid below in each limb, down to the taps. The line fluid stands higher in the high limb.
//
// Path: from the high tap up through the line fluid to its meniscus, out into the top fluid, up to the crown, down the
// other side to the low meniscus, into the line fluid, down to the low tap:
//
//	p_h − ρ·g·(z_h − Z_h) + j_h − ρ_t·g·(C − z_h) − ρ_t·g·(z_l − C) − j_l − ρ·g·(Z_l − z_l) = p_l
//
// The top fluid is a fixed amount: what the high meniscus takes from it the low one gives back, by volume. (Shut-in air
// would be squeezed by the line pressure, which moves both menisci and leaves their distance alone.)
type InvertedUTubeDesc struct {
	Setting
	Top               Liquid  // the lighter fluid, here the instrument's liquid
	Line              Liquid  // below it
	HighBore, LowBore float64 // m
	Rest              float64 // m, height of both menisci when filled
	Crown             float64 // m
	HighTap, LowTap   float64 // m
}

// InvertedUTube gives where the menisci stand when p(high) − p(low) = dp, in Pa. Head is negative for a positive dp.
func InvertedUTube(d InvertedUTubeDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	if err := finite("the pressure difference", dp); err != nil {
		return Positions{}, err
	}
	h, l, err := d.solve(dp, d.T)
	if err != nil {
		return Positions{}, err
	}
	h0, l0, err := d.solve(0, d.ZeroT)
	if err != nil {
		return Positions{}, err
	}
	return Positions{
		High: d.shown(h, d.T), Low: d.shown(l, d.T), ZeroHigh: d.shown(h0, d.ZeroT), ZeroLow: d.shown(l0, d.ZeroT),
		Head: l - h, ZeroHead: l0 - h0,
	}, nil
}

func (d InvertedUTubeDesc) check() error {
	if err := d.Setting.check(d.Line); err != nil {
		return err
	}
	if err := positive("bore of the high limb", d.HighBore); err != nil {
		return err
	}
	return positive("bore of the low limb", d.LowBore)
}

// places: x is the volume of line fluid that came into the high limb, and of top fluid that went to the low one.
func (d InvertedUTubeDesc) places(x float64) (high, low float64) {
	return d.Rest + x/circle(d.HighBore), d.Rest - x/circle(d.LowBore)
}

func (d InvertedUTubeDesc) rise(x, t float64) float64 {
	high, low := d.places(x)
	line, top := d.Line.At(t), d.Top.At(t)
	w := walk{g: d.G}
	w.climb(line, d.HighTap, high)
	w.add(d.Capillarity.jump(d.HighBore))
	w.climb(top, high, d.Crown)
	w.climb(top, d.Crown, low)
	w.add(-d.Capillarity.jump(d.LowBore))
	w.climb(line, low, d.LowTap)
	return w.pressure()
}

func (d InvertedUTubeDesc) solve(dp, t float64) (high, low float64, err error) {
	narrow := min(circle(d.HighBore), circle(d.LowBore))
	x, err := balance(func(x float64) float64 { return dp + d.rise(x, t) }, 0.01*narrow, 1e-19*narrow)
	if err != nil {
		return 0, 0, err
	}
	high, low = d.places(x)
	return high, low, nil
}
