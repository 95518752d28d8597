package secondway

import "fmt"

// TwoLiquidDesc is a narrow U of a heavy liquid under two wide chambers of a lighter one, a line fluid above. Both
// interfaces between the liquids stand in the narrow tube.
//
// Path: high tap, line fluid to the chamber surface, chamber liquid to the interface, heavy liquid down, across and up
// to the other interface, and back the same way:
//
//	p_h − ρ_f·g·(c_h − Z_h) − ρ_c·g·(i_h − c_h) − ρ·g·(i_l − i_h) − ρ_c·g·(c_l − i_l) − ρ_f·g·(Z_l − c_l) = p_l
//
// Three volumes stay: the heavy liquid's, and on each side the chamber liquid's between interface and surface. So a
// volume x of heavy liquid that crosses lowers the high interface by x/a and the high surface by x/A, and raises
// the low ones by as much.
type TwoLiquidDesc struct {
	Setting
	Liquid, Chamber, Line Liquid
	TubeBore, ChamberBore float64 // m
	Rest                  float64 // m, height of both interfaces when filled, the chambers level
	Surface               float64 // m, height of both chamber surfaces then
	HighTap, LowTap       float64 // m
}

// TwoLiquid gives where the interfaces stand when p(high) − p(low) = dp, in Pa. Head is between the interfaces.
func TwoLiquid(d TwoLiquidDesc, dp float64) (Positions, error) {
	if err := d.check(); err != nil {
		return Positions{}, err
	}
	if err := finite("the pressure difference", dp); err != nil {
		return Positions{}, err
	}
	now, err := d.solve(dp, d.T)
	if err != nil {
		return Positions{}, err
	}
	zero, err := d.solve(0, d.ZeroT)
	if err != nil {
		return Positions{}, err
	}
	return Positions{
		High: d.shown(now.high, d.T), Low: d.shown(now.low, d.T),
		ZeroHigh: d.shown(zero.high, d.ZeroT), ZeroLow: d.shown(zero.low, d.ZeroT),
		Head: now.low - now.high, ZeroHead: zero.low - zero.high,
	}, nil
}

func (d TwoLiquidDesc) check() error {
	if err := d.Setting.check(d.Liquid); err != nil {
		return err
	}
	if c, rho := d.Chamber.At(d.T), d.Liquid.At(d.T); c >= rho {
		return fmt.Errorf("the chamber liquid weighs %v kg/m³, the one below it %v", c, rho)
	}
	if err := positive("bore of the tube", d.TubeBore); err != nil {
		return err
	}
	return positive("bore of the chambers", d.ChamberBore)
}

// fourLevels is where the two interfaces and the two chamber surfaces stand.
type fourLevels struct{ high, low, highSurface, lowSurface float64 }

func (d TwoLiquidDesc) places(x float64) fourLevels {
	a, c := circle(d.TubeBore), circle(d.ChamberBore)
	return fourLevels{d.Rest - x/a, d.Rest + x/a, d.Surface - x/c, d.Surface + x/c}
}

func (d TwoLiquidDesc) rise(x, t float64) float64 {
	p := d.places(x)
	heavy, light, line := d.Liquid.At(t), d.Chamber.At(t), d.Line.At(t)
	w := walk{g: d.G}
	w.climb(line, d.HighTap, p.highSurface)
	w.climb(light, p.highSurface, p.high)
	w.climb(heavy, p.high, 0)
	w.climb(heavy, 0, p.low)
	w.climb(light, p.low, p.lowSurface)
	w.climb(line, p.lowSurface, d.LowTap)
	return w.pressure()
}

func (d TwoLiquidDesc) solve(dp, t float64) (fourLevels, error) {
	a := circle(d.TubeBore)
	x, err := balance(func(x float64) float64 { return dp + d.rise(x, t) }, 0.01*a, 1e-19*a)
	if err != nil {
		return fourLevels{}, err
	}
	return d.places(x), nil
}
