package fluid

import (
	"math"

	"manobridge/convert/quantity"
)

// DensityU gives the standard uncertainty of the density in kg/m³ from the fluid's own inputs, which are taken as
// independent; that of the temperature is not in it. Source: JCGM 100:2008, equation 10.
func (s State) DensityU() float64 {
	sum := 0.0
	for _, c := range s.Own {
		sum += c * c
	}
	return math.Sqrt(sum)
}

// Expansion gives the thermal expansion coefficient of volume, −(dρ/dt)/ρ in 1/K; 0 for a fluid without weight.
func (s State) Expansion() quantity.ExpansionCoefficient {
	if s.Density == 0 {
		return 0
	}
	return quantity.ExpansionCoefficient(-s.PerKelvin / float64(s.Density))
}

// SpecificWeight gives the weight of a cubic metre in N/m³.
func (s State) SpecificWeight(g quantity.Acceleration) float64 {
	return float64(s.Density) * float64(g)
}
