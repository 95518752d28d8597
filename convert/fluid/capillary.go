package fluid

import (
	"math"

	"manobridge/convert/quantity"
)

// Meniscus is the edge of a liquid in a round vertical tube: what capillarity does to its height.
type Meniscus struct {
	Bore    quantity.Length         // inner diameter; 0.01 to 200 mm
	Tension quantity.SurfaceTension // 0.001 to 1 N/m
	Density quantity.Density        // of the liquid less that of the gas above; 1 to 14000 kg/m³
	Gravity quantity.Acceleration   // 9 to 10 m/s²
}

// check refuses a meniscus that is none, and contact angles outside 0 to 180°.
func (m Meniscus) check(contact quantity.Angle) error {
	for _, c := range []struct {
		what, unit      string
		seen, low, high float64
	}{
		{"bore", "mm", m.Bore.Millimetres(), 0.01, 200},
		{"surface tension", "N/m", float64(m.Tension), 0.001, 1},
		{"density", "kg/m³", float64(m.Density), 1, 14000},
		{"gravity", "m/s²", float64(m.Gravity), 9, 10},
		{"contact angle", "°", contact.Degrees(), 0, 180},
	} {
		if !(c.seen >= c.low && c.seen <= c.high) {
			return &RangeError{Fluid: "the meniscus", Quantity: c.what, Unit: c.unit, Seen: c.seen, Low: c.low, High: c.high,
				Source: "limits for a manometer tube"}
		}
	}
	return nil
}

// capillaryLength is √(σ/(ρ g)) in m: 2.7 mm for water, 1.9 mm for mercury.
func (m Meniscus) capillaryLength() float64 {
	return math.Sqrt(float64(m.Tension) / (float64(m.Density) * float64(m.Gravity)))
}

// MeanRise gives how far capillarity lifts the liquid, averaged over the bore; negative where it pushes it down.
//
//	h = 4 σ cos θ / (ρ g d)
//
//	θ  contact angle, in the liquid      rad   0 to π; 0 for clean water, 130 to 140° for mercury on glass
//
// It is exact for the average over the bore at any bore, and good for the middle of the meniscus in a narrow tube only:
// see ApexRise. In an inclined tube h is the vertical height. Source: J. Jurin, Phil. Trans. R. Soc. 30 (1718) 739.
func (m Meniscus) MeanRise(contact quantity.Angle) (quantity.Length, error) {
	if err := m.check(contact); err != nil {
		return 0, err
	}
	sigma, rho, g, d := float64(m.Tension), float64(m.Density), float64(m.Gravity), float64(m.Bore)
	return quantity.Length(4 * sigma * math.Cos(float64(contact)) / (rho * g * d)), nil
}

// ApexRise gives how far capillarity lifts the middle of the meniscus, which is where a scale is read: the bottom of
// a wetting liquid's, the crown of mercury's. It is negative for mercury: its crown stands too low.
//
// It solves the Young-Laplace equation for the round tube; see solveApex. In bores more than forty capillary lengths wide it is
// 0, which is right within a nanometre.
func (m Meniscus) ApexRise(contact quantity.Angle) (quantity.Length, error) {
	if err := m.check(contact); err != nil {
		return 0, err
	}
	lc := m.capillaryLength()
	edge := float64(contact) - math.Pi/2 // slope of the surface at the wall; positive where it falls towards the wall
	d, _ := solveApex(float64(m.Bore)/(2*lc), math.Abs(edge))
	return quantity.Length(math.Copysign(d*lc, -edge)), nil
}

// CrownDepression gives how far the crown of a meniscus stands too low from its height, crown over edge, which can be seen
// and tells more of a mercury surface than a contact angle from a book. The result is positive.
// A height that the tube cannot have, or one that is negative, is a *RangeError.
func (m Meniscus) CrownDepression(height quantity.Length) (quantity.Length, error) {
	if err := m.check(0); err != nil {
		return 0, err
	}
	lc := m.capillaryLength()
	radius := float64(m.Bore) / (2 * lc)
	_, highest := solveApex(radius, math.Pi/2)
	if z := float64(height) / lc; !(z >= 0 && z <= highest) {
		return 0, &RangeError{Fluid: "the meniscus", Quantity: "height", Unit: "mm", Seen: height.Millimetres(),
			High: highest * lc * 1000, Source: "Young-Laplace equation, edge upright"}
	}
	d := solveApexByHeight(radius, float64(height)/lc)
	return quantity.Length(d * lc), nil
}
