package geometry

// Role says which fluid a column is made of.
type Role int

// The roles.
const (
	RoleLiquid   Role = iota // the manometer liquid
	RoleHighOver             // between the high meniscus and the high tap
	RoleLowOver              // between the low meniscus and the low tap
	RoleLine                 // over the chambers of a two-liquid instrument
	NumRoles
)

// Column is one step of the walk: a fluid between two heights, in the order walked.
type Column struct {
	Role     Role
	Density  float64 // kg/m³
	From, To float64 // m above the common level
}

// Contribution is what the column adds to p(high) − p(low), in Pa: ρ g (z_to − z_from). Walking down raises the
// pressure ahead of the walker and so lowers the difference that remains.
func (c Column) Contribution(gravity float64) float64 {
	return c.Density * gravity * (c.To - c.From)
}

// Jump is a step of pressure at a curved meniscus, in Pa, as it adds to p(high) − p(low).
type Jump struct {
	Limb     string // "high" or "low"
	Pressure float64
}

// Walk is the path from the high tap to the low tap.
type Walk struct {
	Columns []Column
	Jumps   []Jump
}

// Difference sums the walk to p(high) − p(low) in Pa.
//
//	p_end = p_start + g Σ ρ_i (z_in,i − z_out,i)
//
// so p_start − p_end = g Σ ρ_i (z_out,i − z_in,i): pressure is equal at both sides of a flat interface and grows
// downward by ρ g in every fluid.
//
// Source: the fundamental equation of hydrostatics, dp/dz = −ρ g; F. M. White, Fluid Mechanics, chapter 2, "application
// to manometry".
func (w Walk) Difference(gravity float64) float64 {
	sum := 0.0
	for _, c := range w.Columns {
		sum += c.Contribution(gravity)
	}
	for _, j := range w.Jumps {
		sum += j.Pressure
	}
	return sum
}

// Largest is the largest column term in Pa, the yardstick for rounding.
func (w Walk) Largest(gravity float64) float64 {
	m := 0.0
	for _, c := range w.Columns {
		if v := c.Contribution(gravity); v > m {
			m = v
		} else if -v > m {
			m = -v
		}
	}
	return m
}

// Walk lays out the columns of an evaluated state, from the high tap to the low tap. Summed, they give the same pressure
// as Evaluate to rounding.
func (m *TwoLimb) Walk(s *State, e *Eval) Walk {
	w := Walk{Columns: []Column{
		{RoleHighOver, s.HighOver, m.High.Tap, e.HighZ},
		{RoleLiquid, s.Liquid, e.HighZ, e.LowZ},
		{RoleLowOver, s.LowOver, e.LowZ, m.Low.Tap},
	}}
	if m.Chambers.Ratio != 0 {
		high, low := m.surfaces(s, e)
		w.Columns = []Column{
			{RoleLine, s.Line, m.High.Tap, high},
			{RoleHighOver, s.HighOver, high, e.HighZ},
			{RoleLiquid, s.Liquid, e.HighZ, e.LowZ},
			{RoleLowOver, s.LowOver, e.LowZ, low},
			{RoleLine, s.Line, low, m.Low.Tap},
		}
	}
	if m.High.Capillary != 0 {
		w.Jumps = append(w.Jumps, Jump{"high", m.High.Capillary})
	}
	if m.Low.Capillary != 0 {
		w.Jumps = append(w.Jumps, Jump{"low", -m.Low.Capillary})
	}
	return w
}
