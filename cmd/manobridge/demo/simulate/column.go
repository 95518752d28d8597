package simulate

// limbTruth is one limb as it really is, in SI units.
type limbTruth struct {
	sin       float64 // sine of the angle above horizontal
	area      float64 // m², bore area across its axis
	zeroH     float64 // m, height of the scale's origin
	tapH      float64 // m, height of the tap
	over      *liquidTruth
	rest      float64 // m along the limb, where the meniscus stands without pressure
	digitized bool
}

// column is one instrument as it really is.
type column struct {
	high, low limbTruth
	liquid    *liquidTruth
	site      *siteTruth

	restC       float64 // °C, of the liquid when it came to rest
	charge      float64 // m³, 0 where the volume is constant
	bodyPerK    float64
	scalePerK   float64
	scaleC      float64
	positionU   float64 // m
	temperature float64 // °C, standard deviation of a reading of the thermometer
	resolution  float64 // m
}

// over gives the density in kg/m³ of what stands over a limb's meniscus.
func (c *column) over(l *limbTruth, t float64) float64 {
	if l.over != nil {
		return l.over.densityOf(t)
	}
	return c.site.air
}

// swell is the growth of the liquid's volume against its vessel since it came to rest, in m³. The mass is conserved:
// the charge grows as its density falls, the vessel as three times its linear expansion.
func (c *column) swell(t float64) float64 {
	if c.charge == 0 {
		return 0
	}
	return c.charge * (c.liquid.densityOf(c.restC)/c.liquid.densityOf(t) - 1 - 3*c.bodyPerK*(t-c.restC))
}

// settle finds where both menisci stand, in m along their limbs, under a differential pressure in Pa between the taps
// and with the liquid at t in °C. Two balances, linear in the two unknowns s_h and s_l:
//
//	p + g [ρ_oh (Z_h − z_h) + ρ (z_h − z_l) − ρ_ol (Z_l − z_l)] = 0     down from the high tap, up to the low one
//	A_h (s_h − r_h) + A_l (s_l − r_l) = ΔV                             what leaves one limb enters the other
//	z = z_0 + s sin θ                                                  along the limb to height, for both
//
//	ρ, ρ_oh, ρ_ol  densities of the column and of what stands over each meniscus    Z  tap heights
//	A  bore areas    r  positions at rest    ΔV  thermal swell of the charge
func (c *column) settle(p, t float64) (high, low float64) {
	g := c.site.g
	rho, overH, overL := c.liquid.densityOf(t), c.over(&c.high, t), c.over(&c.low, t)

	// Force balance as fh·s_h − fl·s_l = f0.
	fh := (rho - overH) * c.high.sin
	fl := (rho - overL) * c.low.sin
	f0 := -p/g - overH*c.high.tapH + overL*c.low.tapH - (rho-overH)*c.high.zeroH + (rho-overL)*c.low.zeroH
	// Volume balance as A_h·s_h + A_l·s_l = v0.
	v0 := c.swell(t) + c.high.area*c.high.rest + c.low.area*c.low.rest

	// Cramer's rule; the determinant is positive while the column is heavier than what stands over it.
	det := fh*c.low.area + fl*c.high.area
	return (f0*c.low.area + fl*v0) / det, (fh*v0 - f0*c.high.area) / det
}

// restHigh gives the high meniscus's position at rest from the low one's: the force balance of settle at p = 0.
func (c *column) restHigh() float64 {
	rho, overH, overL := c.liquid.densityOf(c.restC), c.over(&c.high, c.restC), c.over(&c.low, c.restC)
	zl := c.low.zeroH + c.low.rest*c.low.sin
	zh := ((rho-overL)*zl - overH*c.high.tapH + overL*c.low.tapH) / (rho - overH)
	return (zh - c.high.zeroH) / c.high.sin
}

// scaleReading turns a true position in m into what a scale at t in °C shows for it.
func (c *column) scaleReading(s, t float64) float64 {
	return s / (1 + c.scalePerK*(t-c.scaleC))
}
