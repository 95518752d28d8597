package configs

// Uncertainty holds the standard uncertainty (k = 1) of each input of an instrument, in the unit of the key. A key is
// named after the input it belongs to. Left out: a documented default applies, and check lists it as assumed. 0: exact.
// Those of a liquid stand with the liquid (density_u_kg_m3, ...), that of gravity with the location.
type Uncertainty struct {
	// PositionMM is that of one position along the scale in mm: what repeated readings of a still column scatter by.
	PositionMM *float64 `yaml:"position_mm" range:"[0,50]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,two-liquid,profile,sealed"`
	// ResolutionMM is the smallest step the digitizer shows in mm, not a standard uncertainty: the converter divides it
	// by the square root of 12.
	ResolutionMM *float64 `yaml:"resolution_mm" range:"[0,50]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,two-liquid,profile,sealed"`
	// ZeroMM is that of a position of the zero reading in mm.
	ZeroMM *float64 `yaml:"zero_mm" range:"[0,50]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,two-liquid,profile,sealed"`
	// TieMM is that of a position of the tie in mm.
	TieMM *float64 `yaml:"tie_mm" range:"[0,50]" only:"limb-pair"`
	// Reading is that of one reading of an engraved scale, in its unit.
	Reading *float64 `yaml:"reading" range:"[0,100000]" only:"graduated"`
	// ZeroReading is that of the zero reading of an engraved scale, in its unit.
	ZeroReading *float64 `yaml:"zero_reading" range:"[0,100000]" only:"graduated"`

	// TemperatureC is that of the liquid's temperature in °C.
	TemperatureC *float64 `yaml:"temperature_c" range:"[0,50]"`
	// ZeroTemperatureC is that of the temperature of the zero reading in °C. Left out: as temperature_c.
	ZeroTemperatureC *float64 `yaml:"zero_temperature_c" range:"[0,50]"`
	// TieTemperatureC is that of the temperature of the tie in °C. Left out: as temperature_c.
	TieTemperatureC *float64 `yaml:"tie_temperature_c" range:"[0,50]" only:"limb-pair"`

	// SlopeDeg is that of the angle of the tube in degrees.
	SlopeDeg *float64 `yaml:"slope_deg" range:"[0,10]" only:"inclined-reservoir,limb-pair"`
	// SlopeRatio is that of the slope where it is given as rise over tube length.
	SlopeRatio *float64 `yaml:"slope_ratio" range:"[0,0.2]" only:"inclined-reservoir,limb-pair"`
	// BoreMM is that of the bore in mm, or of each of two bores.
	BoreMM *float64 `yaml:"bore_mm" range:"[0,20]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,profile,sealed"`
	// HighBoreMM is that of the bore of the high limb in mm.
	HighBoreMM *float64 `yaml:"high_bore_mm" range:"[0,20]" only:"u-tube,inverted-u-tube"`
	// LowBoreMM is that of the bore of the low limb in mm.
	LowBoreMM *float64 `yaml:"low_bore_mm" range:"[0,20]" only:"u-tube,inverted-u-tube"`
	// ReservoirBoreMM is that of the inner diameter of the reservoir in mm.
	ReservoirBoreMM *float64 `yaml:"reservoir_bore_mm" range:"[0,50]" only:"inclined-reservoir,profile"`
	// AreaRatio is that of the area ratio where it is given.
	AreaRatio *float64 `yaml:"area_ratio" range:"[0,0.2]" only:"inclined-reservoir,profile"`
	// TubeBoreMM is that of the bore of the narrow U in mm.
	TubeBoreMM *float64 `yaml:"tube_bore_mm" range:"[0,20]" only:"two-liquid"`
	// ChamberBoreMM is that of the inner diameter of a chamber in mm.
	ChamberBoreMM *float64 `yaml:"chamber_bore_mm" range:"[0,50]" only:"two-liquid"`
	// PointAlongMM is that of each distance along a bent tube in mm.
	PointAlongMM *float64 `yaml:"point_along_mm" range:"[0,50]" only:"profile"`
	// PointHeightMM is that of each height of a bent tube in mm.
	PointHeightMM *float64 `yaml:"point_height_mm" range:"[0,50]" only:"profile"`
	// CisternBoreMM is that of the inner diameter of the cistern in mm.
	CisternBoreMM *float64 `yaml:"cistern_bore_mm" range:"[0,50]" only:"sealed"`
	// NeutralMM is that of the neutral reading in mm.
	NeutralMM *float64 `yaml:"neutral_mm" range:"[0,50]" only:"sealed"`
	// CisternSettingMM is that of setting an adjustable cistern to its pointer in mm.
	CisternSettingMM *float64 `yaml:"cistern_setting_mm" range:"[0,10]" only:"sealed"`
	// VapourPressurePa is that of the pressure over the closed limb in Pa: its vapour, and gas left in it.
	VapourPressurePa *float64 `yaml:"vapour_pressure_pa" range:"[0,10000]" only:"sealed"`
	// LiquidDensityKgM3 is that of the density an engraved scale was made for in kg/m³.
	LiquidDensityKgM3 *float64 `yaml:"liquid_density_kg_m3" range:"[0,200]" only:"graduated"`
	// GravityMS2 is that of the gravity an engraved scale was made for in m/s².
	GravityMS2 *float64 `yaml:"gravity_m_s2" range:"[0,0.05]" only:"graduated"`
	// ScaleTemperatureC is that of the temperature an engraved scale was made for in °C.
	ScaleTemperatureC *float64 `yaml:"scale_temperature_c" range:"[0,50]" only:"graduated"`
	// ScaleGasDensityKgM3 is that of the gas density an engraved scale was made for in kg/m³.
	ScaleGasDensityKgM3 *float64 `yaml:"scale_gas_density_kg_m3" range:"[0,50]" only:"graduated"`

	// ScaleZeroHeightMM is that of the height of each limb's zero mark in mm.
	ScaleZeroHeightMM *float64 `yaml:"scale_zero_height_mm" range:"[0,1000]" only:"limb-pair"`
	// TapHeightMM is that of the height of each tap in mm.
	TapHeightMM *float64 `yaml:"tap_height_mm" range:"[0,1000]"`
	// LegTemperatureC is that of the temperature of the fluid in each leg in °C.
	LegTemperatureC *float64 `yaml:"leg_temperature_c" range:"[0,50]"`
	// LinePressureKPa is that of the line pressure in kPa.
	LinePressureKPa *float64 `yaml:"line_pressure_kpa" range:"[0,1000]"`
	// ScaleExpansionPerK is that of the scale's expansion in 1/K.
	ScaleExpansionPerK *float64 `yaml:"scale_expansion_per_k" range:"[0,0.0001]"`
	// TiltDeg is that of the tilt in the plane of the tube in degrees.
	TiltDeg *float64 `yaml:"tilt_deg" range:"[0,10]"`
	// CrossTiltDeg is that of the tilt across it in degrees.
	CrossTiltDeg *float64 `yaml:"cross_tilt_deg" range:"[0,10]"`
	// ZeroDistanceMM is that of the distance from the reservoir to the zero mark in mm.
	ZeroDistanceMM *float64 `yaml:"zero_distance_mm" range:"[0,100]"`
	// ChargeML is that of the volume of liquid in mL.
	ChargeML *float64 `yaml:"charge_ml" range:"[0,2000]"`
	// BodyExpansionPerK is that of the expansion of the body in 1/K.
	BodyExpansionPerK *float64 `yaml:"body_expansion_per_k" range:"[0,0.0001]"`
	// MeniscusMM is that of finding the meniscus and of the wetting of the tube, which a zero reading does not remove,
	// in mm of height.
	MeniscusMM *float64 `yaml:"meniscus_mm" range:"[0,20]"`

	// AmbientTemperatureC is that of the air temperature in °C.
	AmbientTemperatureC *float64 `yaml:"ambient_temperature_c" range:"[0,50]"`
	// AmbientPressureHPa is that of the station pressure in hPa.
	AmbientPressureHPa *float64 `yaml:"ambient_pressure_hpa" range:"[0,200]"`
	// AmbientHumidityPct is that of the relative humidity in %.
	AmbientHumidityPct *float64 `yaml:"ambient_humidity_pct" range:"[0,50]"`

	// High states what differs in the high limb.
	High *LimbUncertainty `yaml:"high"`
	// Low states what differs in the low limb.
	Low *LimbUncertainty `yaml:"low"`

	// DOF gives degrees of freedom to inputs by their key, as the number of readings minus one; left out: infinite.
	DOF map[string]float64 `yaml:"dof" range:"[1,1000000]" keysof:"uncertainty"`
}

// LimbUncertainty states what differs in one limb; what it leaves out is as stated for both.
type LimbUncertainty struct {
	// PositionMM is that of a position along the limb's scale in mm.
	PositionMM *float64 `yaml:"position_mm" range:"[0,50]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,two-liquid,profile,sealed"`
	// ZeroMM is that of the limb's zero position in mm.
	ZeroMM *float64 `yaml:"zero_mm" range:"[0,50]" only:"u-tube,inclined-reservoir,limb-pair,inverted-u-tube,two-liquid,profile,sealed"`
	// TieMM is that of the limb's tie position in mm.
	TieMM *float64 `yaml:"tie_mm" range:"[0,50]" only:"limb-pair"`
	// SlopeDeg is that of the limb's angle in degrees.
	SlopeDeg *float64 `yaml:"slope_deg" range:"[0,10]" only:"limb-pair"`
	// SlopeRatio is that of the limb's slope where it is given as rise over tube length.
	SlopeRatio *float64 `yaml:"slope_ratio" range:"[0,0.2]" only:"limb-pair"`
	// BoreMM is that of the limb's bore in mm.
	BoreMM *float64 `yaml:"bore_mm" range:"[0,50]" only:"limb-pair"`
	// ScaleZeroHeightMM is that of the height of the limb's zero mark in mm.
	ScaleZeroHeightMM *float64 `yaml:"scale_zero_height_mm" range:"[0,1000]" only:"limb-pair"`
	// TapHeightMM is that of the height of the limb's tap in mm.
	TapHeightMM *float64 `yaml:"tap_height_mm" range:"[0,1000]"`
	// LegTemperatureC is that of the temperature of the fluid in the limb's leg in °C.
	LegTemperatureC *float64 `yaml:"leg_temperature_c" range:"[0,50]"`
	// DOF gives degrees of freedom to the inputs of this limb by their key; left out: infinite.
	DOF map[string]float64 `yaml:"dof" range:"[1,1000000]" keysof:"limb uncertainty"`
}
