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
	}
}
