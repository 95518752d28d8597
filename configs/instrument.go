package configs

// Instrument is one manometer with its digitizer.
type Instrument struct {
	// Name is its key under instruments.
	Name string `yaml:"-"`

	// Port names the entry under ports its frames come in on.
	Port string `yaml:"port" canonical:"-"`
	// Address is what the frames of this instrument carry in their address field, in quotes.
	Address string `yaml:"address" canonical:"-"`
	// Ask is what this instrument is asked, where that differs from what its port says for all.
	Ask *OwnAsk `yaml:"ask" canonical:"-"`
	// Offline marks an instrument without a port: its readings come from files, to the command convert.
	Offline bool `yaml:"offline" canonical:"-"`
	// Liquid is a built-in name or one under liquids.
	Liquid string `yaml:"liquid" needed:"true"`
	// Geometry is the shape of the manometer.
	Geometry Geometry `yaml:"geometry" needed:"true"`
	// Zero is the reading with both ports joined to the same place. What it gives is subtracted from every result.
	Zero *Zero `yaml:"zero"`
	// Tie is one pair of positions seen together at any pressure, for limb-pair with one digitized limb.
	Tie *Tie `yaml:"tie"`
	// Temperature says where the temperature of the liquid comes from. It is never the ambient unless that is written.
	Temperature Temperature `yaml:"temperature"`
	// Channels say where the air of the legs and the tilt come from.
	Channels Channels `yaml:"channels" canonical:"-"`
	// Diagnosis is what the instrument itself is held against.
	Diagnosis Diagnosis `yaml:"diagnosis" canonical:"-"`
	// Signal says how positions are worked out where the frames carry counts, V, mA, distances or rows of an image.
	Signal *Signal `yaml:"signal"`
	// Average makes one result of the readings of a window. Left out: every reading is a result.
	Average *Average `yaml:"average" canonical:"-"`
	// Uncertainty of each input, standard (k = 1). Left out: a documented default, listed by check as assumed. 0: exact.
	Uncertainty Uncertainty `yaml:"uncertainty"`
	// RangePa is the range in Pa the instrument is used over, lower end first.
	RangePa *[2]float64 `yaml:"range_pa" range:"[-10000000,10000000]"`

	Conditions `yaml:",inline"`
}

// Conditions are what every kind of manometer may also have. They may stand beside geometry or within it, not in both.
type Conditions struct {
	// ScaleExpansionPerK is the linear thermal expansion of the scale in 1/K: brass 0.0000184, acrylic about 0.00007.
	// Left out: no expansion, and check says so.
	ScaleExpansionPerK *float64 `yaml:"scale_expansion_per_k" range:"[0,0.0005]"`
	// ScaleReferenceC is the temperature in °C at which the scale is true. Left out: 20 °C.
	ScaleReferenceC *float64 `yaml:"scale_reference_c" range:"[-40,100]"`
	// Legs are the lines from the menisci to the taps, where they differ or stand full of liquid.
	Legs *Legs `yaml:"legs"`
	// LinePressureKPa is the absolute pressure in the lines in kPa; it sets the density of the gas in the legs.
	LinePressureKPa *float64 `yaml:"line_pressure_kpa" range:"(0,100000]"`
	// TiltDeg is how far the base stands off level in the plane of the tube, in degrees; positive raises the far end.
	TiltDeg *float64 `yaml:"tilt_deg" range:"[-10,10]"`
	// CrossTiltDeg is the same across the plane of the tube, in degrees.
	CrossTiltDeg *float64 `yaml:"cross_tilt_deg" range:"[-10,10]"`
	// ZeroDistanceMM is the horizontal distance in mm from the reservoir to the zero mark.
	ZeroDistanceMM *float64 `yaml:"zero_distance_mm" range:"[0,5000]"`
	// ChargeML is the volume of liquid in mL; it sets how far the zero drifts with temperature.
	ChargeML *float64 `yaml:"charge_ml" range:"(0,20000]"`
	// BodyExpansionPerK is the linear thermal expansion of the body that holds the liquid in 1/K.
	BodyExpansionPerK *float64 `yaml:"body_expansion_per_k" range:"[0,0.0005]"`
	// Meniscus is where the position is taken: bottom for water and oil, crown for mercury. A camera that finds the other
	// edge states that under signal, with the offset between the two.
	Meniscus string `yaml:"meniscus" enum:"bottom|crown"`
}

// Legs are the two lines from the menisci to the taps.
type Legs struct {
	// High is the line of the limb joined to the higher pressure.
	High *Leg `yaml:"high"`
	// Low is the line of the limb joined to the lower pressure.
	Low *Leg `yaml:"low"`
}

// Leg is one line from a meniscus to its tap.
type Leg struct {
	// Fluid that fills the line: a built-in name or one under liquids. Left out: the ambient air.
	Fluid string `yaml:"fluid"`
	// TemperatureC is the temperature of that fluid in °C. Left out: the ambient.
	TemperatureC *float64 `yaml:"temperature_c" range:"[-60,400]"`
	// TapHeightMM is the height of the tap in mm above one common level.
	TapHeightMM *float64 `yaml:"tap_height_mm" range:"[-100000,100000]"`
}

// Zero is the reading taken with both ports joined to the same place.
type Zero struct {
	// HighMM is the position in the high limb in mm, along its scale.
	HighMM *float64 `yaml:"high_mm" range:"[-10000,10000]"`
	// LowMM is the position in the low limb in mm, along its scale.
	LowMM *float64 `yaml:"low_mm" range:"[-10000,10000]"`
	// Reading is what a graduated scale showed, in its unit.
	Reading *float64 `yaml:"reading" range:"[-1000000,1000000]"`
	// TemperatureC is the temperature of the liquid in °C at that moment.
	TemperatureC *float64 `yaml:"temperature_c" range:"[-60,400]" needed:"true"`
	// TiltDeg is how far the base stood off level at that moment, in degrees, where it has been moved since. Left out: as
	// tilt_deg of the instrument.
	TiltDeg *float64 `yaml:"tilt_deg" range:"[-10,10]"`
	// Date it was taken, as 2026-03-01.
	Date Date `yaml:"date"`
}

// Tie is one pair of positions seen together. It fixes the volume of liquid and removes no offset.
type Tie struct {
	// HighMM is the position in the high limb in mm, along its scale.
	HighMM *float64 `yaml:"high_mm" range:"[-10000,10000]" needed:"true"`
	// LowMM is the position in the low limb in mm, along its scale.
	LowMM *float64 `yaml:"low_mm" range:"[-10000,10000]" needed:"true"`
	// TemperatureC is the temperature of the liquid in °C at that moment.
	TemperatureC *float64 `yaml:"temperature_c" range:"[-60,400]" needed:"true"`
}

// The sources a liquid temperature may have, beside the name of another instrument.
const (
	FromFrame   = "frame"
	FromFixed   = "fixed"
	FromAmbient = "ambient"
)

// Temperature says where the temperature of the liquid comes from.
type Temperature struct {
	// From is frame, fixed, ambient, or the name of a station or another instrument whose frames carry temperature_c. Left out: frame
	// where the frames carry it, else fixed.
	From string `yaml:"from"`
	// FixedC is a temperature in °C that holds where no measured one is at hand.
	FixedC *float64 `yaml:"fixed_c" range:"[-60,400]"`
	// MaxAge is how long a measured temperature stays usable when the next one does not come.
	MaxAge Duration `yaml:"max_age" range:"[1s,24h]" canonical:"-"`
}
