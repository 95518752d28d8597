package quantity

// The units. Exact ones are so by definition; a value that is the rounded one of a table says which table.
//
// Sources: BIPM, The International System of Units, 9th edition (2019); NIST SP 811 (2008), appendix B.8, second-hand. By
// definition: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, standard gravity 9.80665 m/s², conventional mercury 13595.1 kg/m³ and
// conventional water 1000 kg/m³.

// What a column unit without a temperature is taken for.
const (
	conventionalMercury = "conventional mercury, 13595.1 kg/m³ under 9.80665 m/s²"
	conventionalWater   = "conventional water, 1000 kg/m³ under 9.80665 m/s²"
)

var pressureUnits = []unit{
	{symbol: "Pa", scale: "1"},
	{symbol: "hPa", scale: "100"},
	{symbol: "kPa", scale: "1000"},
	{symbol: "MPa", scale: "1000000"},
	{symbol: "bar", scale: "100000"},
	{symbol: "mbar", scale: "100"},
	{symbol: "atm", scale: "101325"},
	{symbol: "at", scale: "98066.5"},
	{symbol: "kgf/cm²", scale: "98066.5"},
	{symbol: "kgf/m²", scale: "9.80665"},
	{symbol: "gf/cm²", scale: "98.0665"},
	{symbol: "dyn/cm²", scale: "0.1"},
	{symbol: "torr", aliases: "Torr", scale: "101325/760"}, // not the millimetre of mercury: 1.4e-7 less
	{symbol: "mTorr", aliases: "mtorr", scale: "101325/760000"},
	{symbol: "psi", aliases: "lbf/in2", scale: "44482216152605/6451600000"},
	{symbol: "ksi", scale: "44482216152605/6451600"},
	{symbol: "psf", aliases: "lbf/ft2", scale: "44482216152605/929030400000"},
	{symbol: "ozf/in²", scale: "44482216152605/103225600000"},
	{symbol: "pdl/ft²", scale: "138254954376/92903040000"},

	{symbol: "mmHg", scale: "133.322387415", assumed: conventionalMercury},
	{symbol: "cmHg", scale: "1333.22387415", assumed: conventionalMercury},
	{symbol: "umHg", aliases: "micron", scale: "0.133322387415", assumed: conventionalMercury},
	{symbol: "inHg", scale: "3386.388640341", assumed: conventionalMercury},
	{symbol: "ftHg", scale: "40636.663684092", assumed: conventionalMercury},
	// Rounded, as NIST SP 811 prints them.
	{symbol: "mmHg_0C", scale: "133.322"},
	{symbol: "inHg_32F", scale: "3386.38"},
	{symbol: "inHg_60F", scale: "3376.85"},

	{symbol: "mmH2O", aliases: "mmWC mmWG mmwc mmwg", scale: "9.80665", assumed: conventionalWater},
	{symbol: "cmH2O", aliases: "cmWC cmWG", scale: "98.0665", assumed: conventionalWater},
	{symbol: "mH2O", aliases: "mWC mWG", scale: "9806.65", assumed: conventionalWater},
	{symbol: "inH2O", aliases: "inWC inWG inwc inwg", scale: "249.08891", assumed: conventionalWater},
	{symbol: "ftH2O", aliases: "ftWC ftWG", scale: "2989.06692", assumed: conventionalWater},
	// Rounded, as NIST SP 811 prints them.
	{symbol: "mmH2O_4C", scale: "9.80638"},
	{symbol: "cmH2O_4C", scale: "98.0638"},
	{symbol: "inH2O_4C", aliases: "inH2O_392F", scale: "249.082"},
	{symbol: "ftH2O_4C", aliases: "ftH2O_392F", scale: "2988.98"},
	{symbol: "inH2O_60F", scale: "248.84"},
	// Not in SP 811: water of 998.2067 kg/m³, Tanaka et al., Metrologia 38 (2001) 301, at 20 °C.
	{symbol: "inH2O_68F", aliases: "inH2O_20C", scale: "248.64223"},
	// The same with the old handbook density 0.99823.
	{symbol: "inH2O_20C_handbook", scale: "248.648"},
}

var lengthUnits = []unit{
	{symbol: "m", scale: "1"},
	{symbol: "mm", scale: "0.001"},
	{symbol: "cm", scale: "0.01"},
	{symbol: "µm", scale: "0.000001"},
	{symbol: "km", scale: "1000"},
	{symbol: "in", aliases: "inch", scale: "0.0254"},
	{symbol: "ft", scale: "0.3048"},
}

var temperatureUnits = []unit{
	{symbol: "K", scale: "1"},
	{symbol: "°C", aliases: "degC", scale: "1", offset: "273.15"},
	{symbol: "°F", aliases: "degF", scale: "5/9", offset: "45967/180"}, // 459.67 · 5/9
}

var temperatureDifferenceUnits = []unit{
	{symbol: "K", scale: "1"},
	{symbol: "°C", aliases: "degC", scale: "1"},
	{symbol: "°F", aliases: "degF", scale: "5/9"},
}

// perDegree is π/180 to 60 digits.
const perDegree = "0.0174532925199432957692369076848861271344287188854172545609719144"

var angleUnits = []unit{
	{symbol: "rad", scale: "1"},
	{symbol: "mrad", scale: "0.001"},
	{symbol: "°", aliases: "deg", scale: perDegree},
}

var densityUnits = []unit{
	{symbol: "kg/m³", scale: "1"},
	{symbol: "g/cm³", aliases: "g/ml g/mL kg/l kg/L kg/dm3", scale: "1000"},
	{symbol: "g/l", aliases: "g/L", scale: "1"},
	{symbol: "lb/ft³", scale: "28349523125/1769802912"}, // 0.45359237 kg in (0.3048 m)³,
}

var accelerationUnits = []unit{
	{symbol: "m/s²", scale: "1"},
	{symbol: "Gal", aliases: "cm/s2", scale: "0.01"},
	{symbol: "mGal", scale: "0.00001"},
}

var surfaceTensionUnits = []unit{
	{symbol: "N/m", scale: "1"},
	{symbol: "mN/m", aliases: "dyn/cm", scale: "0.001"},
}

var volumeUnits = []unit{
	{symbol: "m³", scale: "1"},
	{symbol: "ml", aliases: "mL cm3", scale: "0.000001"},
	{symbol: "l", aliases: "L dm3", scale: "0.001"},
}
