package convert

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
)

// By hand: bores of 7 and 4 mm, so areas as 49 to 16. With no scale expansion and no charge: a pressure that moves the high
// limb down by 16 mm moves the low one up by 49 mm, and nothing is gained; a bubble that lifts both by 2 mm is 2 mm.
func TestBalance(t *testing.T) {
	r := newRig("u-tube")
	r.alpha = 0
	c := converter(t, r.options(t))
	for _, one := range []struct{ high, low, want float64 }{{0, 0, 0}, {-16, 49, 0}, {32, -98, 0}, {2, 2, 2}, {-14, 51, 2}, {0, -6.5, -1.6}} {
		res := c.Convert(reading(100+one.high, 12+one.low+400, 20.4))
		res.Low = Some(quantity.Millimetres(12 + one.low)) // the balance asks for positions, not for a pressure on scale
		b, ok := c.Balance(&res)
		if !ok || math.Abs(b.Rise.Millimetres()-one.want) > 1e-9 {
			t.Errorf("got %v mm, %v for limbs moved by %g and %g mm, want %g (worked by hand)", b.Rise.Millimetres(), ok, one.high, one.low, one.want)
		}
	}
	// u: 0.1 mm now and 0.15 mm at the zero in each limb: 0.1803 mm, weighed 49/65 and 16/65: 0.1430 mm.
	res := c.Convert(reading(100, 12, 20.4))
	if b, _ := c.Balance(&res); math.Abs(b.U.Millimetres()-0.1430) > 1e-4 {
		t.Errorf("got u = %v mm, want 0.1430 (worked by hand)", b.U.Millimetres())
	}
	// Signals that add 0.8 mm to the high and 0.5 mm to the low limb: √(0.8² + 0.1803²) = 0.8201 and √(0.5² + 0.1803²) = 0.5315 mm,
	// weighed 49/65 and 16/65: √(0.6182² + 0.1308²) = 0.6319 mm (JCGM 100:2008, 5.1.2).
	res.HighExtra, res.LowExtra = Extra{U: quantity.Millimetres(0.8)}, Extra{U: quantity.Millimetres(0.5)}
	if b, _ := c.Balance(&res); math.Abs(b.U.Millimetres()-0.6319) > 2e-4 {
		t.Errorf("got u = %v mm with signals, want 0.6319 (worked by hand)", b.U.Millimetres())
	}
}

// 20 mL of an oil of 8.5·10⁻⁴/K, 5 K warmer, in limbs of 38.4845 and 12.5664 mm²: 20000 · 8.5e-4 · 5 / 51.0509 = 1.665 mm to
// first order. Limbs that rose by that have gained nothing.
func TestBalanceIsCompensated(t *testing.T) {
	r := newRig("u-tube")
	r.alpha = 0
	o := r.options(t)
	o.Shape.ChargeVolume = 20e-6
	c := converter(t, o)
	res := c.Convert(reading(100+1.665, 12+1.665, 25.4))
	b, ok := c.Balance(&res)
	if !ok || math.Abs(b.Rise.Millimetres()) > 0.01 || math.Abs(b.Charge.Millimetres()-20000/51.0509) > 0.01 {
		t.Errorf("got %+v, %v, want no rise within 0.01 mm (second order of 5 K) and a charge of 391.8 mm", b, ok)
	}
}

func TestBalanceNeedsBothLimbs(t *testing.T) {
	c := converter(t, newRig("inclined-reservoir").options(t))
	res := c.Convert(reading(100, 50, 20))
	if _, ok := c.Balance(&res); ok {
		t.Error("one limb was balanced")
	}
}
