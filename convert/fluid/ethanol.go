package fluid

import (
	"fmt"
	"strconv"

	"manobridge/convert/quantity"
)

// EthanolWater is a mixture of ethanol and water, −20 to 40 °C at 101.325 kPa, by its mass fraction of ethanol.
//
//	ρ = A1 + Σ A_k p^(k−1) + Σ B_k d^k + ΣΣ C_ik p^k d^i,   d = t − 20 °C, p the mass fraction
//
// Its temperatures are of an older scale; the difference to ITS-90, 0.01 K at 40 °C, is in the formula's uncertainty.
//
// Source: OIML R 22, International alcoholometric tables (1973, 1975), general formula (Wagenbreth and Blanke) with its 54
// coefficients, read in transcriptions.
type EthanolWater struct {
	p, uP   float64
	assumed bool
}

const (
	// DefaultEthanolU is the standard uncertainty of a mass fraction stated to two digits, with some evaporation.
	// Common practice, no source.
	DefaultEthanolU = 0.005
	// ethanolU, in kg/m³, stands for the formula, its temperature scale and the rounding of the tables it was made of.
	// Our judgement: the tables have two decimals, and 0.01 K at 40 °C is 0.009 kg/m³.
	ethanolU = 0.01

	ethanolSource = "OIML R 22, International alcoholometric tables (1975), general formula"
)

var ethanolSpan = celsiusSpan(-20, 40)

// NewEthanolWater makes EthanolWater from the mass fraction of ethanol, 0 to 1, and its standard uncertainty.
func NewEthanolWater(massFraction quantity.Ratio, u Uncertainty) (EthanolWater, error) {
	p := float64(massFraction)
	if !(p >= 0 && p <= 1) {
		return EthanolWater{}, &RangeError{Fluid: "ethanol-water", Quantity: "mass fraction", Seen: p, High: 1, Source: ethanolSource}
	}
	if err := u.ok("the mass fraction of ethanol"); err != nil {
		return EthanolWater{}, err
	}
	e := EthanolWater{p: p}
	e.uP, e.assumed = u.or(DefaultEthanolU)
	return e, nil
}

// EthanolMassFraction turns a fraction by volume at 20 °C, what a bottle's label states, into one by mass. It is the p
// for which q = p ρ(p, 20 °C)/ρ(1, 20 °C). Outside 0 to 1 it returns a *RangeError. Source: OIML R 22, section 2.
func EthanolMassFraction(volumeFraction quantity.Ratio) (quantity.Ratio, error) {
	q := float64(volumeFraction)
	if !(q >= 0 && q <= 1) {
		return 0, &RangeError{Fluid: "ethanol-water", Quantity: "volume fraction", Seen: q, High: 1, Source: ethanolSource}
	}
	pure, _, _ := ethanolDensity(1, 0)
	low, high := 0.0, 1.0
	for range 60 {
		p := (low + high) / 2
		if rho, _, _ := ethanolDensity(p, 0); p*rho/pure < q {
			low = p
		} else {
			high = p
		}
	}
	return quantity.Ratio((low + high) / 2), nil
}

// MassFraction gives the mass fraction of ethanol.
func (e EthanolWater) MassFraction() quantity.Ratio { return quantity.Ratio(e.p) }

// Name implements Fluid.
func (e EthanolWater) Name() string {
	return "ethanol-water:" + strconv.FormatFloat(e.p, 'g', -1, 64)
}

// Source implements Fluid.
func (EthanolWater) Source() string { return ethanolSource }

// Range implements Fluid.
func (EthanolWater) Range() (low, high quantity.Temperature) {
	return ethanolSpan.low, ethanolSpan.high
}

// Inputs implements Fluid.
func (e EthanolWater) Inputs() []Input {
	return []Input{
		{Name: "mass fraction of ethanol", Value: e.p, Unit: "1", U: e.uP, Assumed: e.assumed},
		{Name: "density formula", Unit: "kg/m³", U: ethanolU, Assumed: true},
	}
}

// At implements Fluid.
func (e EthanolWater) At(t quantity.Temperature) (State, error) {
	if !ethanolSpan.has(t) {
		return State{}, ethanolSpan.refuse(e.Name(), ethanolSource, t)
	}
	rho, perP, perT := ethanolDensity(e.p, t.Celsius()-20)
	s := State{Density: quantity.Density(rho), PerKelvin: perT}
	s.Own[0] = perP * e.uP
	s.Own[1] = ethanolU
	return s, nil
}

// The coefficients of the general formula: A by powers of p from p⁰, B by powers of d from d¹, and each row of C, for d¹
// to d⁵, by powers of p from p¹.
var (
	ethanolA = [...]float64{
		9.982012300e2, -1.929769495e2, 3.891238958e2, -1.668103923e3, 1.352215441e4, -8.829278388e4,
		3.062874042e5, -6.138381234e5, 7.470172998e5, -5.478461354e5, 2.234460334e5, -3.903285426e4,
	}
	ethanolB = [...]float64{
		-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11,
	}
	ethanolC = [...][11]float64{
		{1.693443461530087e-1, -1.046914743455169e1, 7.196353469546523e1, -7.047478054272792e2,
			3.924090430035045e3, -1.210164659068747e4, 2.248646550400788e4, -2.605562982188164e4,
			1.852373922069467e4, -7.420201433430137e3, 1.285617841998974e3},
		{-1.193013005057010e-2, 2.517399633803461e-1, -2.170575700536993, 1.353034988843029e1,
			-5.029988758547014e1, 1.096355666577570e2, -1.422753946421155e2, 1.080435942856230e2,
			-4.414153236817392e1, 7.442971530188783},
		{-6.802995733503803e-4, 1.876837790289664e-2, -2.002561813734156e-1, 1.022992966719220,
			-2.895696483903638, 4.810060584300675, -4.672147440794683, 2.458043105903461, -5.411227621436812e-1},
		{4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6},
		{-2.788074354782409e-8, 1.345612883493354e-8},
	}
)

// ethanolDensity is the general formula with its derivatives by mass fraction and by kelvin.
func ethanolDensity(p, d float64) (rho, perP, perT float64) {
	rho, perP = horner(ethanolA[:], p)
	b, bd := horner(ethanolB[:], d)
	rho += b * d
	perT = b + bd*d
	power := 1.0 // d^(i−1)
	for i := range ethanolC {
		c, cp := horner(ethanolC[i][:], p)
		term, termP := c*p, c+cp*p
		perT += float64(i+1) * power * term
		power *= d
		rho += term * power
		perP += termP * power
	}
	return rho, perP, perT
}

// horner gives Σ c_k x^k and its derivative.
func horner(c []float64, x float64) (value, slope float64) {
	for k := len(c) - 1; k >= 0; k-- {
		slope = slope*x + value
		value = value*x + c[k]
	}
	return value, slope
}

// parseEthanol reads the part of a name after the colon.
func parseEthanol(text string) (Fluid, error) {
	p, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil, fmt.Errorf("mass fraction %q is not a number from 0 to 1", text)
	}
	return NewEthanolWater(quantity.Ratio(p), Uncertainty{})
}
