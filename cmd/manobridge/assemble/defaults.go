package assemble

// Standard uncertainties that stand in for ones left out of the configuration. `check` lists every use as assumed.
// Common practice, no source, unless noted.
const (
	// assumedPositionMM: half a millimetre is what the naked eye reads on one limb; a digitizer is better and says so.
	// The zero and the tie take the position's.
	assumedPositionMM = 0.5
	// assumedTemperatureK: a probe near the column, not in it.
	assumedTemperatureK = 1.0
	// assumedAmbientTemperatureK: the air of a room against one configured value.
	assumedAmbientTemperatureK = 2.0
	// assumedAmbientPressurePa: the weather against one configured value.
	assumedAmbientPressurePa = 1000.0
	// assumedHumidity: a room over a year against one configured value, as a ratio.
	assumedHumidity = 0.15
	// assumedSlopeDeg: an instrument set up with its own bubble level and a protractor.
	assumedSlopeDeg = 0.1
	// assumedBore: the tolerance of precision glass tubing, relative.
	assumedBore = 0.01
	// assumedHeightMM: a height measured with a rule.
	assumedHeightMM = 1.0
	// assumedScaleExpansionPerK covers glass, steel and brass scales taken as not expanding.
	assumedScaleExpansionPerK = 1e-5
	// assumedGravityU: a surveyed value given without its uncertainty, m/s².
	assumedGravityU = 2e-5
	// assumedTiltDeg: a bubble level read by eye.
	assumedTiltDeg = 0.05
	// assumedRelative: what is measured once with a hand tool.
	assumedRelative = 0.05
	// assumedLinePressure: an industrial gauge, relative.
	assumedLinePressure = 0.02
)

const (
	// assumedMark: a share of an engraved scale, read by eye: half a division of a scale of fifty.
	assumedMark = 0.01
	// assumedVapourPa: gas left over the closed surface of a barometer that was filled with care, Pa.
	assumedVapourPa = 10.0
	// standardGravity is what unit scales are made for where they say nothing else, m/s², exact: 3rd CGPM (1901).
	standardGravity = 9.80665
)
