package configs

// Liquid is a manometer liquid or a fluid in a leg, defined in the file: a density at a reference temperature with its
// expansion, or a table of densities.
type Liquid struct {
	// Name is its key under liquids.
	Name string `yaml:"-"`

	// DensityKgM3 is the density at reference_c in kg/m³, from its certificate or measured.
	DensityKgM3 *float64 `yaml:"density_kg_m3" range:"[500,14000]"`
	// DensityUKgM3 is the standard uncertainty of the density in kg/m³ (k = 1): half of an expanded one with k = 2.
	DensityUKgM3 *float64 `yaml:"density_u_kg_m3" range:"[0,200]"`
	// ReferenceC is the temperature in °C at which the density holds.
	ReferenceC *float64 `yaml:"reference_c" range:"[-100,200]"`
	// ExpansionPerK is the volumetric thermal expansion in 1/K: about 0.0002 for water, 0.0008 for light oils.
	ExpansionPerK *float64 `yaml:"expansion_per_k" range:"[-0.001,0.005]"`
	// ExpansionUPerK is the standard uncertainty of the expansion in 1/K (k = 1).
	ExpansionUPerK *float64 `yaml:"expansion_u_per_k" range:"[0,0.002]"`
	// ExpansionQuadraticPerK2 is the quadratic term in 1/K², for expansion_form quadratic only.
	ExpansionQuadraticPerK2 *float64 `yaml:"expansion_quadratic_per_k2" range:"[-0.0001,0.0001]"`
	// ExpansionQuadraticUPerK2 is the standard uncertainty of the quadratic term in 1/K² (k = 1).
	ExpansionQuadraticUPerK2 *float64 `yaml:"expansion_quadratic_u_per_k2" range:"[0,0.0001]"`
	// ExpansionForm says which formula the coefficient belongs to, with dt = t - reference. linear: density / (1 + b dt);
	// exponential: density × exp(-b dt); quadratic: density / (1 + b dt + c dt²).
	ExpansionForm string `yaml:"expansion_form" enum:"linear|exponential|quadratic"`
	// Points is a table instead of the coefficients: pairs of temperature in °C and density in kg/m³, temperature rising.
	Points [][2]float64 `yaml:"points" range:"[-150,400];[500,14000]" unit:"°C;kg/m³" min:"2"`
	// ValidC is the span of temperatures in °C over which the coefficients hold; outside it no value is given.
	// Left out: 40 K either side of reference_c. Not with points, whose ends are the span.
	ValidC *[2]float64 `yaml:"valid_c" range:"[-150,400]"`
	// SurfaceTensionNM is the surface tension against air in N/m: 0.0728 for water, about 0.03 for light oils.
	SurfaceTensionNM *float64 `yaml:"surface_tension_n_m" range:"[0.005,0.6]"`
	// SurfaceTensionUNM is its standard uncertainty in N/m (k = 1).
	SurfaceTensionUNM *float64 `yaml:"surface_tension_u_n_m" range:"[0,0.2]"`
	// ContactAngleDeg is the contact angle on the tube in degrees: 0 wets fully, mercury on glass about 140.
	ContactAngleDeg *float64 `yaml:"contact_angle_deg" range:"[0,180]"`
	// ContactAngleUDeg is its standard uncertainty in degrees (k = 1).
	ContactAngleUDeg *float64 `yaml:"contact_angle_u_deg" range:"[0,60]"`
	// Source says where the numbers come from: certificate number, supplier's sheet, own measurement and date.
	Source string `yaml:"source"`
}
