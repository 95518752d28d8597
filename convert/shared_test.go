package convert

import (
	"math"
	"testing"

	"manobridge/convert/quantity"
	"manobridge/convert/uncertainty"
)

// The difference of two readings of one instrument: what is common cancels. For a reservoir instrument without scale
// expansion, p₁ − p₂ = (ρ − ρ_air) g (L₁ − L₂) (sin θ + r) exactly, so its uncertainty is that of the one longer rise:
// positions √2 u, and every common input with the sensitivity of the difference.
func TestDifferenceOfTwoReadings(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	c := converter(t, o)
	a, b := c.Convert(reading(0, 320, 20)), c.Convert(reading(0, 300, 20))
	a.Instrument, b.Instrument = "bench-1", "bench-1"
	uc, _, err := uncertainty.Difference(c.Shared(&a), c.Shared(&b))
	if err != nil {
		t.Fatal(err)
	}
	// By hand: c_L = p/(L − L₀), common relative inputs act on the difference of 20 mm.
	p := float64(a.Differential)
	perMetre := p / (0.320 - 0.012)
	position := math.Sqrt2 * 1e-4 * perMetre
	k := math.Sin(0.2) + 0.004*0.004/(0.05*0.05)
	diff := perMetre * 0.020
	r := 0.004 * 0.004 / (0.05 * 0.05)
	common := math.Sqrt(sq(diff*math.Cos(0.2)/k*3e-4) + sq(diff/k*2*r/0.004*2e-5) + sq(diff/k*2*r/0.05*5e-5) +
		sq(diff*0.4/830) + sq(diff*8.5e-4*0.3) + sq(diff*2e-4/9.807))
	want := math.Hypot(position, common)
	if math.Abs(uc/want-1) > 5e-3 { // air and scale expansion, below that, are left out by hand
		t.Errorf("got u = %v Pa, want %v Pa ± 0.5 %% by hand", uc, want)
	}
	if alone := math.Hypot(a.CombinedU, b.CombinedU); uc > 0.6*alone {
		t.Errorf("got u = %v Pa, want far below %v Pa of two instruments with nothing in common", uc, alone)
	}
}

// Two instruments of one site share gravity, ambient and liquid: their covariance is positive where both rise, and the
// mean of many readings of one instrument keeps what is common.
func TestSharedInputsStayInAnAverage(t *testing.T) {
	o := newRig("inclined-reservoir").options(t)
	c := converter(t, o)
	other := newRig("inclined-reservoir").options(t)
	other.Instrument = "bench-2"
	d := converter(t, other)
	a := c.Convert(reading(0, 320, 20))
	rd := reading(0, 320, 20)
	rd.Instrument = "bench-2"
	b := d.Convert(rd)
	cov, err := uncertainty.Covariance(c.Shared(&a), d.Shared(&b))
	if err != nil {
		t.Fatal(err)
	}
	p := float64(a.Differential)
	// Common: density u 0.4 of 830 and gravity 2e-4 of 9.807, each relative to p; air adds less than 1e-5 of it.
	if want := sq(p*0.4/830) + sq(p*2e-4/9.807); math.Abs(cov/want-1) > 5e-3 {
		t.Errorf("got a covariance of %v Pa², want %v ± 0.5 %%", cov, want)
	}
	many := make([][]uncertainty.Shared, 100)
	for i := range many {
		many[i] = c.Shared(&a)
	}
	uc, _, err := uncertainty.Average(many...)
	if err != nil {
		t.Fatal(err)
	}
	perMetre := p / 0.308
	want := math.Sqrt(sq(a.CombinedU) - sq(1e-4*perMetre)*(1-1.0/100))
	if math.Abs(uc/want-1) > 1e-6 {
		t.Errorf("got u = %v Pa of the mean of 100 readings, want %v: only the position averages out", uc, want)
	}
	if got := c.Shared(&b); got != nil {
		t.Errorf("got contributions for a result of another instrument")
	}
}

// What averaging adds has the degrees of freedom of each average, in a difference too. By hand: 50 mm in each, with 4 degrees of
// freedom, stand so far above all else that ν = (2u²)²/(2 u⁴/4) = 8 (JCGM 100:2008, G.2b).
func TestDifferenceOfAveragesHasTheirDegreesOfFreedom(t *testing.T) {
	var shared [2][]uncertainty.Shared
	for i, name := range []string{"bench-1", "bench-2"} {
		o := newRig("inclined-reservoir").options(t)
		o.Instrument = name
		o.U.Low.Extra = &ExtraInput{Name: "from averaging"}
		c := converter(t, o)
		r := reading(0, 320, 20)
		r.Instrument, r.LowExtra = name, Extra{U: quantity.Millimetres(50), DOF: 4}
		res := c.Convert(r)
		shared[i] = c.Shared(&res)
	}
	if _, nu, err := uncertainty.Difference(shared[0], shared[1]); err != nil || math.Abs(nu-8) > 0.05 {
		t.Errorf("got ν = %v, %v, want 8 ± 0.05", nu, err)
	}
}

func sq(v float64) float64 { return v * v }
