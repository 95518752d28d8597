package fluid

import (
	"math"

	"manobridge/convert/quantity"
)

// airDensity is a density with its derivatives.
type airDensity struct {
	rho                      float64 // kg/m³
	perT, perP, perH, perCO2 float64 // by K, Pa, 1 and 1
}

// cipm2007 is the equation for the density of moist air.
//
//	ρ = p Ma / (Z R T) · (1 − xv (1 − Mv/Ma)),   xv = h f(p,t) psv(T) / p
//	Z = 1 − p/T [a0 + a1 t + a2 t² + (b0 + b1 t) xv + (c0 + c1 t) xv²] + (p/T)² (d + e xv²)
//
//	t   temperature                         °C
//	p   absolute pressure                   Pa
//	h   relative humidity                   1    0 to 1
//	x   mole fraction of carbon dioxide     1
//
// It checks no range. Source: Picard et al. 2008, equation 1 and appendix A.1.
func cipm2007(t, p, h, x float64) airDensity {
	const (
		r  = 8.314472   // J/(mol·K), CODATA 2006, as the equation was fitted
		mv = 0.01801528 // kg/mol
		a0 = 1.58123e-6 // K/Pa
		a1 = -2.9331e-8 // 1/Pa
		a2 = 1.1043e-10 // 1/(K·Pa)
		b0 = 5.707e-6   // K/Pa
		b1 = -2.051e-8  // 1/Pa
		c0 = 1.9898e-4  // K/Pa
		c1 = -2.376e-6  // 1/Pa
		d  = 1.83e-11   // K²/Pa²
		e  = -0.765e-8  // K²/Pa²
	)
	ma := 0.02896546 + 0.012011*(x-0.0004) // kg/mol
	kelvin := t + quantity.ZeroCelsius

	psv, psvT := saturation(kelvin)
	f, fP, fT := enhancement(p, t)
	xv := h * f * psv / p
	xvT := h * (fT*psv + f*psvT) / p
	xvP := h * psv * (fP - f/p) / p
	xvH := f * psv / p

	q, qT, qP := p/kelvin, -p/(kelvin*kelvin), 1/kelvin
	l := a0 + t*(a1+t*a2) + (b0+b1*t)*xv + (c0+c1*t)*xv*xv
	lT := a1 + 2*a2*t + b1*xv + c1*xv*xv
	lX := b0 + b1*t + 2*(c0+c1*t)*xv
	n := d + e*xv*xv
	nX := 2 * e * xv
	z := 1 - q*l + q*q*n
	zQ := -l + 2*q*n     // ∂Z/∂(p/T)
	zX := -q*lX + q*q*nX // ∂Z/∂xv
	m := 1 - xv*(1-mv/ma)
	mX := -(1 - mv/ma)

	rho := q * ma / (z * r) * m
	byQ := rho * (1/q - zQ/z)
	byX := rho * (mX/m - zX/z)
	return airDensity{
		rho:    rho,
		perT:   byQ*qT + byX*xvT + rho*q*lT/z,
		perP:   byQ*qP + byX*xvP,
		perH:   byX * xvH,
		perCO2: q / (z * r) * (1 - xv) * 0.012011,
	}
}

// saturation gives the saturation vapour pressure of water in Pa and its derivative by K, T in kelvin.
// Source: Picard et al. 2008, equation A1.1.
func saturation(kelvin float64) (psv, perT float64) {
	const a, b, c, d = 1.2378847e-5, -1.9121316e-2, 33.93711047, -6.3431645e3
	psv = math.Exp(a*kelvin*kelvin + b*kelvin + c + d/kelvin)
	return psv, psv * (2*a*kelvin + b - d/(kelvin*kelvin))
}

// enhancement gives the enhancement factor of water vapour in air and its derivatives by Pa and K, p in Pa, t in °C.
// Source: Picard et al. 2008, equation A1.2.
func enhancement(p, t float64) (f, perP, perT float64) {
	const a, b, c = 1.00062, 3.14e-8, 5.6e-7
	return a + b*p + c*t*t, b, 2 * c * t
}
