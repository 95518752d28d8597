package configs

// The kinds of manometer.
const (
	UTube             = "u-tube"
	InclinedReservoir = "inclined-reservoir"
	LimbPair          = "limb-pair"
	InvertedUTube     = "inverted-u-tube"
	TwoLiquid         = "two-liquid"
	Profile           = "profile"
	Sealed            = "sealed"
	Graduated         = "graduated"
)

// Geometry is the shape of a manometer. Which keys apply depends on the kind. All bores are inner diameters.
type Geometry struct {
	// Kind of manometer.
	Kind string `yaml:"kind" enum:"u-tube|inclined-reservoir|limb-pair|inverted-u-tube|two-liquid|profile|sealed|graduated" needed:"true"`

	// ScaleMM is the first and the last mark of the scale in mm, measured along the tube; positions beyond it are refused.
	ScaleMM *[2]float64 `yaml:"scale_mm" only:"u-tube,inclined-reservoir,inverted-u-tube,two-liquid,profile,sealed,graduated" range:"[-10000,10000]"`

	// BoreMM is the bore of the tube in mm.
	BoreMM *float64 `yaml:"bore_mm" only:"u-tube,inverted-u-tube,inclined-reservoir,profile,sealed" range:"[0.5,100]"`
	// HighBoreMM is the bore of the high limb in mm, where the two differ.
	HighBoreMM *float64 `yaml:"high_bore_mm" only:"u-tube,inverted-u-tube" range:"[0.5,500]"`
	// LowBoreMM is the bore of the low limb in mm, where the two differ.
	LowBoreMM *float64 `yaml:"low_bore_mm" only:"u-tube,inverted-u-tube" range:"[0.5,500]"`

	// SlopeDeg is the angle of the tube above horizontal in degrees.
	SlopeDeg *float64 `yaml:"slope_deg" only:"inclined-reservoir" range:"(0,90]"`
	// SlopeRatio is rise over tube length, the sine of the angle, in place of slope_deg: 0.2 for "1 in 5" along the tube.
	SlopeRatio *float64 `yaml:"slope_ratio" only:"inclined-reservoir" range:"(0,1]" outside:"it is rise over tube length: 0.2 for 1 in 5"`
	// ReservoirBoreMM is the inner diameter of the reservoir in mm.
	ReservoirBoreMM *float64 `yaml:"reservoir_bore_mm" only:"inclined-reservoir,profile" range:"[1,2000]"`
	// AreaRatio is the bore area of the tube over the free area of the reservoir, in place of reservoir_bore_mm.
	AreaRatio *float64 `yaml:"area_ratio" only:"inclined-reservoir,profile" range:"(0,1)" outside:"it is tube over reservoir, not reservoir over tube"`

	// High is the limb joined to the higher pressure.
	High *Limb `yaml:"high" only:"limb-pair"`
	// Low is the limb joined to the lower pressure.
	Low *Limb `yaml:"low" only:"limb-pair"`

	// LineFluid is the fluid below (inverted-u-tube) or above (two-liquid) the manometer liquid: a built-in name or one
	// under liquids.
	LineFluid string `yaml:"line_fluid" only:"inverted-u-tube,two-liquid"`

	// TubeBoreMM is the bore of the narrow U in mm.
	TubeBoreMM *float64 `yaml:"tube_bore_mm" only:"two-liquid" range:"[0.5,100]"`
	// ChamberBoreMM is the inner diameter of each chamber in mm.
	ChamberBoreMM *float64 `yaml:"chamber_bore_mm" only:"two-liquid" range:"[1,2000]"`
	// ChamberLiquid is the liquid that fills the chambers down to the interface: a built-in name or one under liquids.
	ChamberLiquid string `yaml:"chamber_liquid" only:"two-liquid"`

	// Points describe the bent tube: pairs of distance along it and height, both in mm and both rising.
	Points [][2]float64 `yaml:"points" only:"profile" range:"[-10000,10000];[-10000,10000]" unit:"mm;mm" min:"2"`

	// CisternBoreMM is the inner diameter of a fixed cistern in mm.
	CisternBoreMM *float64 `yaml:"cistern_bore_mm" only:"sealed" range:"[1,2000]"`
	// NeutralMM is the reading in mm at which the scale of a fixed cistern is true.
	NeutralMM *float64 `yaml:"neutral_mm" only:"sealed" range:"[0,10000]"`
	// ScaleCompensated is true where the scale of a fixed cistern is divided to allow for the moving cistern level.
	ScaleCompensated bool `yaml:"scale_compensated" only:"sealed"`
	// Cistern adjustable: its level is set to the pointer before every reading. Fixed: it is not.
	Cistern string `yaml:"cistern" only:"sealed" enum:"fixed|adjustable"`

	// Unit the scale is engraved in, a unit of pressure.
	Unit string `yaml:"unit" only:"graduated"`
	// Scale is the first and the last mark of the engraved scale, in unit.
	Scale *[2]float64 `yaml:"scale" only:"graduated" range:"[-1000000,1000000]"`
	// LiquidDensityKgM3 is the density in kg/m³ the scale was made for.
	LiquidDensityKgM3 *float64 `yaml:"liquid_density_kg_m3" only:"graduated" range:"[500,14000]"`
	// GravityMS2 is the acceleration of free fall in m/s² the scale was made for.
	GravityMS2 *float64 `yaml:"gravity_m_s2" only:"graduated" range:"[9.76,9.84]"`
	// ScaleTemperatureC is the temperature in °C the scale was made for.
	ScaleTemperatureC *float64 `yaml:"scale_temperature_c" only:"graduated" range:"[-40,100]"`
	// ScaleGasDensityKgM3 is the density in kg/m³ of the gas above the liquid the scale was made for.
	ScaleGasDensityKgM3 *float64 `yaml:"scale_gas_density_kg_m3" only:"graduated" range:"[0,200]"`

	Conditions `yaml:",inline"`
}

// Limb is one arm of a limb-pair. Heights are vertical, above one level common to both limbs.
type Limb struct {
	// Reservoir is true for a vertical limb wide enough to be the reservoir.
	Reservoir bool `yaml:"reservoir"`
	// SlopeDeg is the angle of the limb above horizontal in degrees.
	SlopeDeg *float64 `yaml:"slope_deg" range:"(0,90]"`
	// SlopeRatio is rise over tube length, the sine of the angle, in place of slope_deg.
	SlopeRatio *float64 `yaml:"slope_ratio" range:"(0,1]" outside:"it is rise over tube length: 0.2 for 1 in 5"`
	// BoreMM is the inner diameter in mm.
	BoreMM *float64 `yaml:"bore_mm" range:"[0.5,2000]" needed:"true"`
	// Over is the fluid between the meniscus and the tap. Left out: the ambient air.
	Over string `yaml:"over"`
	// ScaleZeroHeightMM is the height of the scale's zero mark in mm.
	ScaleZeroHeightMM *float64 `yaml:"scale_zero_height_mm" range:"[-100000,100000]"`
	// TapHeightMM is the height of the tap in mm.
	TapHeightMM *float64 `yaml:"tap_height_mm" range:"[-100000,100000]"`
	// ScaleMM is the first and the last mark of the limb's scale in mm, measured along the limb.
	ScaleMM *[2]float64 `yaml:"scale_mm" range:"[-10000,10000]" needed:"true"`
}
