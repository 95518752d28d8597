package fluid

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"manobridge/convert/quantity"
)

// Petroleum is a mineral oil known by its group and its density at 15 °C, −18 to 90 °C.
//
//	ρ(t) = ρ15 exp(−α dt (1 + 0.8 α dt)),   dt = t − 15 °C,   α = K0/ρ15² + K1/ρ15 + K2
//
// The constants K are those for °C and a 15 °C base. The trap of this standard: it is printed for 60 °F as well, where the
// constants are 1.8 times smaller, 341.0957 for 613.9723, and belong to dt in °F. Mixing the two gives a change of
// density with temperature nearly twice too small, with no other sign of it.
//
// The 2004 revision adds a shift of 0.0076 K and a change of temperature scale, together below 1e-5 of the change; left
// out here. Light gauge oil is best treated as a lubricating oil.
//
// Source: ASTM D1250-80, API Manual of Petroleum Measurement Standards chapter 11.1, tables 54A, 54B and 54D. The
// constants are from several public transcriptions, the limits of temperature from memory.
type Petroleum struct {
	group      petroleumGroup
	rho15      float64
	uRho       float64
	rhoAssumed bool
	alpha      float64
	uAlpha     float64
}

// petroleumGroup is one product group: densities at 15 °C in kg/m³ and constants for °C.
type petroleumGroup struct {
	name       string
	low, high  float64
	k0, k1, k2 float64
}

var petroleumGroups = [...]petroleumGroup{
	{"crude-oil", 610.5, 1075, 613.9723, 0, 0},
	{"gasoline", 653, 770.5, 346.4228, 0.4388, 0},
	{"gasoline-jet-transition", 770.5, 787.5, 2680.3206, 0, -0.00336312},
	{"jet-fuel", 787.5, 838.5, 594.5418, 0, 0},
	{"fuel-oil", 838.5, 1075, 186.9696, 0.4862, 0},
	{"lubricating-oil", 800, 1164, 0, 0.6278, 0},
}

// DefaultPetroleumExpansionU is the relative standard uncertainty of α for one oil of a group: 0.05 % of volume (95 %) at
// 23 K from the base, as the standard states for its factors up to 100 °F (from memory), is 1.4 %; taken as 2 %.
const DefaultPetroleumExpansionU = 0.02

const petroleumSource = "ASTM D1250-80 / API MPMS 11.1, constants for °C and 15 °C"

var petroleumSpan = celsiusSpan(-18, 90)

// NewPetroleum makes Petroleum of a group (see PetroleumGroups) from its density at 15 °C and that density's standard
// uncertainty in kg/m³; left out, DefaultDensityU of the density.
func NewPetroleum(group string, density15 quantity.Density, u Uncertainty) (Petroleum, error) {
	if err := u.ok("the density of " + group); err != nil {
		return Petroleum{}, err
	}
	for _, g := range petroleumGroups {
		if g.name != group {
			continue
		}
		rho := float64(density15)
		if !(rho >= g.low && rho <= g.high) {
			return Petroleum{}, &RangeError{Fluid: group, Quantity: "density at 15 °C", Unit: "kg/m³",
				Seen: rho, Low: g.low, High: g.high, Source: petroleumSource}
		}
		p := Petroleum{group: g, rho15: rho, alpha: g.k0/(rho*rho) + g.k1/rho + g.k2}
		p.uRho, p.rhoAssumed = u.or(DefaultDensityU * rho)
		p.uAlpha = DefaultPetroleumExpansionU * p.alpha
		return p, nil
	}
	return Petroleum{}, fmt.Errorf("petroleum group %q is not known; known: %s", group, strings.Join(PetroleumGroups(), ", "))
}

// PetroleumAt makes Petroleum from a density measured at another temperature than 15 °C.
func PetroleumAt(group string, density quantity.Density, at quantity.Temperature, u Uncertainty) (Petroleum, error) {
	base := density
	for range 50 {
		p, err := NewPetroleum(group, base, u)
		if err != nil {
			return Petroleum{}, err
		}
		s, err := p.At(at)
		if err != nil {
			return Petroleum{}, err
		}
		step := density - s.Density
		base += step
		if math.Abs(float64(step)) < 1e-9 {
			break
		}
	}
	return NewPetroleum(group, base, u)
}

// PetroleumGroups lists the names of the groups.
func PetroleumGroups() []string {
	names := make([]string, 0, len(petroleumGroups))
	for _, g := range petroleumGroups {
		names = append(names, g.name)
	}
	return names
}

// Density15 gives the density at 15 °C.
func (p Petroleum) Density15() quantity.Density { return quantity.Density(p.rho15) }

// Name implements Fluid.
func (p Petroleum) Name() string {
	return p.group.name + ":" + strconv.FormatFloat(p.rho15, 'g', -1, 64)
}

// Source implements Fluid.
func (Petroleum) Source() string { return petroleumSource }

// Range implements Fluid.
func (Petroleum) Range() (low, high quantity.Temperature) {
	return petroleumSpan.low, petroleumSpan.high
}

// Inputs implements Fluid.
func (p Petroleum) Inputs() []Input {
	return []Input{
		{Name: "density at 15 °C", Value: p.rho15, Unit: "kg/m³", U: p.uRho, Assumed: p.rhoAssumed},
		{Name: "expansion coefficient of the group", Value: p.alpha, Unit: "1/K", U: p.uAlpha, Assumed: true},
	}
}

// At implements Fluid.
func (p Petroleum) At(t quantity.Temperature) (State, error) {
	if !petroleumSpan.has(t) {
		return State{}, petroleumSpan.refuse(p.Name(), petroleumSource, t)
	}
	dt := t.Celsius() - 15
	vcf := volumeCorrection(p.alpha, dt)
	rho := p.rho15 * vcf
	byAlpha := -rho * dt * (1 + 1.6*p.alpha*dt)                              // ∂ρ/∂α
	alphaByRho := -(2*p.group.k0/p.rho15 + p.group.k1) / (p.rho15 * p.rho15) // dα/dρ15
	s := State{Density: quantity.Density(rho), PerKelvin: -rho * p.alpha * (1 + 1.6*p.alpha*dt)}
	s.Own[0] = (vcf + byAlpha*alphaByRho) * p.uRho
	s.Own[1] = byAlpha * p.uAlpha
	return s, nil
}

// volumeCorrection is the factor from the volume at dt from the base to that at the base: α in 1/K, dt in K.
func volumeCorrection(alpha, dt float64) float64 { return math.Exp(-alpha * dt * (1 + 0.8*alpha*dt)) }

// parsePetroleum reads the part of a name after the colon.
func parsePetroleum(group, text string) (Fluid, error) {
	rho, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil, fmt.Errorf("density %q is not a number in kg/m³", text)
	}
	return NewPetroleum(group, quantity.Density(rho), Uncertainty{})
}
