package fluid

import (
	"fmt"
	"math"

	"manobridge/convert/quantity"
)

// Form says which law of thermal expansion a coefficient belongs to. The same coefficient in another form is another
// density: at 1e-3 1/K and 20 K from the reference, linear and exponential differ by 200 ppm.
type Form string

// The forms, dt being t − t_ref.
const (
	Linear      Form = "linear"      // ρ = ρ_ref / (1 + β dt): volume grows in a straight line
	Exponential Form = "exponential" // ρ = ρ_ref exp(−β dt): the relative change per kelvin is constant
	Quadratic   Form = "quadratic"   // ρ = ρ_ref / (1 + β dt + γ dt²)
)

// Liquid is a liquid known by its density at one temperature and its thermal expansion.
//
// It refuses temperatures outside its range, which is ±40 K around the reference unless stated.
type Liquid struct {
	name, source string
	form         Form
	rho, tRef    float64 // kg/m³, K
	beta, gamma  float64 // 1/K, 1/K²
	within       span

	uRho, uBeta, uGamma                   float64
	rhoAssumed, betaAssumed, gammaAssumed bool
	rangeAssumed                          bool
}

// LiquidOptions describes a Liquid. Everything without a default below must be given.
type LiquidOptions struct {
	Name   string
	Source string // where the numbers come from: "supplier's certificate"; may be empty

	Density   quantity.Density     // at Reference; 500 to 14000 kg/m³
	DensityU  Uncertainty          // standard, in kg/m³; left out, DefaultDensityU of the density
	Reference quantity.Temperature // 173.15 to 473.15 K

	Expansion  quantity.ExpansionCoefficient // of volume, β; −1e-3 to 5e-3 1/K
	ExpansionU Uncertainty                   // standard, in 1/K; left out, DefaultExpansionU of the coefficient
	Form       Form                          // empty means Linear

	SecondOrder  float64     // γ in 1/K², for Quadratic alone; −1e-4 to 1e-4
	SecondOrderU Uncertainty // standard, in 1/K²; left out, DefaultExpansionU of the coefficient

	// Low and High bound the range; both 0 means Reference ± DefaultLiquidSpan.
	Low, High quantity.Temperature
}

// Defaults for what is left out, relative. Common practice, no source.
const (
	DefaultDensityU   = 1e-3 // a hand hydrometer read to 1 kg/m³, or a data sheet's typical value
	DefaultExpansionU = 0.1  // the spread of handbook values for one kind of oil
)

// DefaultLiquidSpan is how far from its reference a liquid is trusted unless a range is stated.
const DefaultLiquidSpan quantity.TemperatureDifference = 40

// NewLiquid makes a Liquid, or says which value is not one.
func NewLiquid(o LiquidOptions) (Liquid, error) {
	l := Liquid{
		name: o.Name, source: o.Source, form: o.Form,
		rho: float64(o.Density), tRef: float64(o.Reference),
		beta: float64(o.Expansion), gamma: o.SecondOrder,
		within: span{o.Low, o.High},
	}
	if l.form == "" {
		l.form = Linear
	}
	if l.source == "" {
		l.source = "as configured"
	}
	if o.Low == 0 && o.High == 0 {
		l.rangeAssumed = true
		l.within = span{
			o.Reference - quantity.Temperature(DefaultLiquidSpan), o.Reference + quantity.Temperature(DefaultLiquidSpan),
		}
	}
	if err := l.check(o); err != nil {
		return Liquid{}, err
	}
	l.uRho, l.rhoAssumed = o.DensityU.or(DefaultDensityU * l.rho)
	l.uBeta, l.betaAssumed = o.ExpansionU.or(DefaultExpansionU * math.Abs(l.beta))
	if l.form == Quadratic {
		l.uGamma, l.gammaAssumed = o.SecondOrderU.or(DefaultExpansionU * math.Abs(l.gamma))
	}
	return l, nil
}

// check refuses what cannot be a liquid.
func (l Liquid) check(o LiquidOptions) error {
	if l.form != Linear && l.form != Exponential && l.form != Quadratic {
		return fmt.Errorf("expansion form of %s is %q; allowed: %s, %s, %s", l.name, l.form, Linear, Exponential, Quadratic)
	}
	if l.form != Quadratic && l.gamma != 0 {
		return fmt.Errorf("second-order expansion of %s is %v 1/K² but the form is %s; allowed with %s alone",
			l.name, l.gamma, l.form, Quadratic)
	}
	for _, c := range []struct {
		what, unit      string
		seen, low, high float64
	}{
		{"density", "kg/m³", l.rho, 500, 14000},
		{"reference temperature", "°C", l.tRef - quantity.ZeroCelsius, -100, 200},
		{"expansion coefficient", "1/K", l.beta, -1e-3, 5e-3},
		{"second-order expansion", "1/K²", l.gamma, -1e-4, 1e-4},
		{"low end of the range", "°C", l.within.low.Celsius(), -150, 400},
		{"high end of the range", "°C", l.within.high.Celsius(), l.within.low.Celsius(), 400},
	} {
		if !(c.seen >= c.low && c.seen <= c.high) {
			return &RangeError{Fluid: l.name, Quantity: c.what, Unit: c.unit, Seen: c.seen, Low: c.low, High: c.high,
				Source: "limits for a liquid in a manometer"}
		}
	}
	for _, u := range []struct {
		what string
		u    Uncertainty
	}{{"density", o.DensityU}, {"expansion coefficient", o.ExpansionU}, {"second-order expansion", o.SecondOrderU}} {
		if err := u.u.ok("the " + u.what + " of " + l.name); err != nil {
			return err
		}
	}
	return l.checkVolume()
}

// checkVolume refuses coefficients that would let the volume fall below half or rise above twice that at the
// reference anywhere in the range: they are not those of a liquid.
func (l Liquid) checkVolume() error {
	at := []quantity.Temperature{l.within.low, l.within.high}
	if l.form == Quadratic && l.gamma != 0 {
		if turn := quantity.Temperature(l.tRef - l.beta/(2*l.gamma)); l.within.has(turn) {
			at = append(at, turn)
		}
	}
	for _, t := range at {
		if v := l.rho / l.density(float64(t)-l.tRef); !(v >= 0.5 && v <= 2) {
			return &RangeError{Fluid: l.name, Quantity: fmt.Sprintf("volume at %s °C relative to the reference", number(t.Celsius())),
				Unit: "", Seen: v, Low: 0.5, High: 2, Source: "check the expansion coefficient and the range"}
		}
	}
	return nil
}

// Name implements Fluid.
func (l Liquid) Name() string { return l.name }

// Source implements Fluid.
func (l Liquid) Source() string { return l.source }

// Form gives the law of expansion.
func (l Liquid) Form() Form { return l.form }

// Range implements Fluid.
func (l Liquid) Range() (low, high quantity.Temperature) { return l.within.low, l.within.high }

// RangeAssumed tells whether the range is our default and not the user's statement.
func (l Liquid) RangeAssumed() bool { return l.rangeAssumed }

// Inputs implements Fluid.
func (l Liquid) Inputs() []Input {
	in := []Input{
		{Name: "density at reference", Value: l.rho, Unit: "kg/m³", U: l.uRho, Assumed: l.rhoAssumed},
		{Name: "expansion coefficient", Value: l.beta, Unit: "1/K", U: l.uBeta, Assumed: l.betaAssumed},
	}
	if l.form == Quadratic {
		in = append(in, Input{Name: "second-order expansion", Value: l.gamma, Unit: "1/K²", U: l.uGamma, Assumed: l.gammaAssumed})
	}
	return in
}

// density is the law itself, dt in K from the reference.
func (l Liquid) density(dt float64) float64 {
	if l.form == Exponential {
		return l.rho * math.Exp(-l.beta*dt)
	}
	return l.rho / (1 + l.beta*dt + l.gamma*dt*dt)
}

// At implements Fluid.
func (l Liquid) At(t quantity.Temperature) (State, error) {
	if !l.within.has(t) {
		return State{}, l.within.refuse(l.name, l.source, t)
	}
	dt := float64(t) - l.tRef
	rho := l.density(dt)
	s := State{Density: quantity.Density(rho)}
	s.Own[0] = rho / l.rho * l.uRho
	if l.form == Exponential {
		s.PerKelvin = -rho * l.beta
		s.Own[1] = -rho * dt * l.uBeta
		return s, nil
	}
	byVolume := -rho * rho / l.rho // ∂ρ by ∂(volume relative to that at the reference)
	s.PerKelvin = byVolume * (l.beta + 2*l.gamma*dt)
	s.Own[1] = byVolume * dt * l.uBeta
	s.Own[2] = byVolume * dt * dt * l.uGamma
	return s, nil
}
