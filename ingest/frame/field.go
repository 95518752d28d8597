package frame

import (
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// field is one thing a frame can report.
type field uint8

const (
	skip field = iota
	address
	lowMM
	highMM
	reading
	temperatureC
	tiltDeg
	ambientC
	pressureHPa
	humidityPct
	lowCounts
	highCounts
	lowV
	highV
	lowMA
	highMA
	lowDistance
	highDistance
	lowPx
	highPx
	fiducial1
	fiducial2
	fiducial3
	fiducial4
	score
	edges
	counter
	contact
	fieldCount
)

// fieldInfo describes a field: its name in the configuration, its name at the bench, and the spellings of its unit
// that may follow the number.
type fieldInfo struct {
	name     string
	bench    string
	suffixes []string
}

var fieldInfos = [fieldCount]fieldInfo{
	skip:         {"skip", "skipped field", nil},
	address:      {"address", "address", nil},
	lowMM:        {"low_mm", "low-limb position", []string{"mm"}},
	highMM:       {"high_mm", "high-limb position", []string{"mm"}},
	reading:      {"reading", "scale reading", nil},
	temperatureC: {"temperature_c", "liquid temperature", []string{"C", "°C", "degC"}},
	tiltDeg:      {"tilt_deg", "tilt", []string{"deg", "°"}},
	ambientC:     {"ambient_c", "ambient temperature", []string{"C", "°C", "degC"}},
	pressureHPa:  {"pressure_hpa", "ambient pressure", []string{"hPa", "mbar"}},
	humidityPct:  {"humidity_pct", "relative humidity", []string{"%", "%RH"}},
	lowCounts:    {"low_counts", "low-limb signal", nil},
	highCounts:   {"high_counts", "high-limb signal", nil},
	lowV:         {"low_v", "low-limb signal", []string{"V"}},
	highV:        {"high_v", "high-limb signal", []string{"V"}},
	lowMA:        {"low_ma", "low-limb signal", []string{"mA"}},
	highMA:       {"high_ma", "high-limb signal", []string{"mA"}},
	lowDistance:  {"low_distance_mm", "distance to the low-limb level", []string{"mm"}},
	highDistance: {"high_distance_mm", "distance to the high-limb level", []string{"mm"}},
	lowPx:        {"low_px", "row of the low-limb meniscus", []string{"px"}},
	highPx:       {"high_px", "row of the high-limb meniscus", []string{"px"}},
	fiducial1:    {"fiducial_1_px", "row of fiducial 1", []string{"px"}},
	fiducial2:    {"fiducial_2_px", "row of fiducial 2", []string{"px"}},
	fiducial3:    {"fiducial_3_px", "row of fiducial 3", []string{"px"}},
	fiducial4:    {"fiducial_4_px", "row of fiducial 4", []string{"px"}},
	score:        {"score", "edge score", nil},
	edges:        {"edges", "number of edges", nil},
	counter:      {"frame_counter", "image counter", nil},
	contact:      {"contact", "contact", nil},
}

// fieldNamed finds a field by its name in the configuration.
func fieldNamed(name string) (field, bool) {
	for i, info := range fieldInfos {
		if info.name == name {
			return field(i), true
		}
	}
	return 0, false
}

// FieldNames gives the names a field may have, in a fixed order.
func FieldNames() []string {
	names := make([]string, fieldCount)
	for i, info := range fieldInfos {
		names[i] = info.name
	}
	return names
}

// set puts a number, in the unit of the field's name, into the frame.
func (f *Frame) set(to field, v float64) {
	switch to {
	case lowMM:
		f.Low = convert.Some(quantity.Millimetres(v))
	case highMM:
		f.High = convert.Some(quantity.Millimetres(v))
	case reading:
		f.Indicated = convert.Some(v)
	case temperatureC:
		f.Temperature = convert.Some(quantity.Celsius(v))
	case tiltDeg:
		f.Tilt = convert.Some(quantity.Degrees(v))
	case ambientC:
		f.AmbientTemperature = convert.Some(quantity.Celsius(v))
	case pressureHPa:
		f.AmbientPressure = convert.Some(quantity.AbsolutePressure(v * 100)) // 1 hPa = 100 Pa, exact
	case humidityPct:
		f.AmbientHumidity = convert.Some(quantity.Ratio(v / 100))
	case lowCounts, lowV, lowMA, lowDistance, lowPx:
		f.LowSignal = convert.Some(v)
	case highCounts, highV, highMA, highDistance, highPx:
		f.HighSignal = convert.Some(v)
	case contact:
		f.Contact = convert.Some(v)
	default:
		f.setCamera(to, v)
	}
}

// setCamera does it for what a camera says beside the row of a meniscus.
func (f *Frame) setCamera(to field, v float64) {
	c := f.camera()
	switch to {
	case fiducial1, fiducial2, fiducial3, fiducial4:
		c.Fiducials[to-fiducial1] = convert.Some(v)
	case score:
		c.Score = convert.Some(v)
	case edges:
		c.Edges = convert.Some(v)
	case counter:
		c.Counter = convert.Some(v)
	}
}

// camera gives what the image of a frame says, made where the frame has none yet.
func (f *Frame) camera() *convert.Camera {
	if f.Camera == nil {
		f.Camera = new(convert.Camera)
	}
	return f.Camera
}

// mayBeLost tells whether a field may be without a value and leave the rest of the frame as good as it was: one fiducial
// mark of several.
func (f field) mayBeLost() bool { return f >= fiducial1 && f <= fiducial4 }

// position tells whether a field says where a meniscus is, or holds the signal that position is worked out from.
func (f field) position() bool {
	return f == lowMM || f == highMM || f == reading || f >= lowCounts && f <= highPx
}

// signalOf gives the limb, 'l' or 'h', whose signal a field is; 0 for any other field.
func (f field) signalOf() byte {
	switch {
	case f < lowCounts || f > highPx:
		return 0
	case (f-lowCounts)%2 == 0:
		return 'l'
	}
	return 'h'
}
