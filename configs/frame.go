package configs

import (
	"reflect"
	"regexp"
	"slices"
)

// Members names the member of a JSON object that holds each field. A member of an inner object has a dotted path, as in
// column.position.
type Members struct {
	// Address is the path of the instrument's address.
	Address string `yaml:"address"`
	// HighMM is the path of the position in the high limb, sent in mm.
	HighMM string `yaml:"high_mm"`
	// LowMM is the path of the position in the low limb, sent in mm.
	LowMM string `yaml:"low_mm"`
	// Reading is the path of the reading, sent in the unit of the engraved scale.
	Reading string `yaml:"reading"`
	// TemperatureC is the path of the liquid's temperature, sent in °C.
	TemperatureC string `yaml:"temperature_c"`
	// TiltDeg is the path of the tilt, sent in degrees.
	TiltDeg string `yaml:"tilt_deg"`
	// AmbientC is the path of the ambient temperature, sent in °C.
	AmbientC string `yaml:"ambient_c"`
	// PressureHPa is the path of the ambient pressure, sent in hPa.
	PressureHPa string `yaml:"pressure_hpa"`
	// HumidityPct is the path of the relative humidity, sent in %.
	HumidityPct string `yaml:"humidity_pct"`

	SignalMembers `yaml:",inline"`
}

// member is one field and the path it is found under.
type member struct{ field, path string }

func (m *Members) list() (out []member) {
	if m == nil {
		return nil
	}
	v := reflect.ValueOf(*m)
	for _, f := range fieldsOf(v.Type()) {
		if path := v.FieldByIndex(f.index).String(); path != "" {
			out = append(out, member{f.key, path})
		}
	}
	return out
}

// Paths gives the field that each path holds.
func (m *Members) Paths() map[string]string {
	out := map[string]string{}
	for _, one := range m.list() {
		out[one.path] = one.field
	}
	return out
}

// Binary describes frames of a fixed length that begin with the same bytes and carry a check value. Without one, bytes
// that happen to look like a start would give plausible wrong numbers.
type Binary struct {
	// Start is the bytes that each frame begins with, as "AA 55".
	Start string `yaml:"start" pattern:"^[0-9A-Fa-f]{2}( ?[0-9A-Fa-f]{2})*$" means:"bytes of two hexadecimal digits each, in quotes, as \"AA 55\"" needed:"true"`
	// Length of the whole frame in bytes, start and check value included.
	Length int `yaml:"length" range:"[2,512]" needed:"true"`
	// Fields are the values in the frame.
	Fields []BinaryField `yaml:"fields" min:"1" max:"64" needed:"true"`
	// Checksum says how a frame proves that it arrived as it was sent.
	Checksum BinaryChecksum `yaml:"checksum" needed:"true"`
}

// BinaryField is one value of a binary frame.
type BinaryField struct {
	// Field names what the value is.
	Field string `yaml:"field" enum:"address|high_mm|low_mm|reading|temperature_c|tilt_deg|ambient_c|pressure_hpa|humidity_pct|high_counts|low_counts|high_v|low_v|high_ma|low_ma|high_distance_mm|low_distance_mm|high_px|low_px|fiducial_1_px|fiducial_2_px|fiducial_3_px|fiducial_4_px|score|edges|frame_counter|contact" needed:"true"`
	// At is where its first byte stands; the first byte of the frame is 0.
	At int `yaml:"at" range:"[0,511]" needed:"true"`
	// Type of the number; float32 is that of IEEE 754.
	Type string `yaml:"type" enum:"uint8|int8|uint16|int16|uint32|int32|float32" needed:"true"`
	// Order of the bytes: big has the most significant first, little the least. The swapped ones are for four bytes, sent
	// as two words with the low word first. Left out for one byte.
	Order string `yaml:"order" enum:"big|little|big-swapped|little-swapped"`
	// Scale is what the number is multiplied with to be in the unit of the field's name: 0.01 where hundredths of a mm
	// are sent. An address has none; an address is written in decimal digits.
	Scale *float64 `yaml:"scale" range:"[-1e9,1e9]"`
	// NoValue are what stands for "no value", in hexadecimal digits in the order sent, as "7F FF".
	NoValue []string `yaml:"no_value" max:"64" pattern:"^[0-9A-Fa-f]{2}( ?[0-9A-Fa-f]{2})*$" means:"bytes of two hexadecimal digits each, in quotes, as \"7F FF\""`
}

// BinaryChecksum is the check value of a binary frame.
type BinaryChecksum struct {
	// Name of the algorithm, as for lines.
	Name string `yaml:"name" enum:"xor-8|sum-8|sum-16|twos-complement-8|crc-8/smbus|crc-8/maxim|crc-16/modbus|crc-16/arc|crc-16/ibm-3740|crc-16/xmodem|crc-16/kermit|crc-16/x-25|crc-16/genibus|crc-32" needed:"true"`
	// At is where its first byte stands; the first byte of the frame is 0.
	At int `yaml:"at" range:"[1,511]" needed:"true"`
	// From is the first byte that it covers; it covers everything from there up to itself.
	From int `yaml:"from" range:"[0,510]"`
	// LowByteFirst is true where the bytes of a value of more than one stand in that order.
	LowByteFirst bool `yaml:"low_byte_first"`
}

// Carried lists the fields that the frames have, whatever their format, skipped ones left out.
func (f Frame) Carried() (out []string) {
	switch f.Format {
	case FormatPattern:
		if re, err := regexp.Compile(f.Pattern); err == nil {
			out = slices.DeleteFunc(re.SubexpNames(), func(name string) bool { return name == "" })
		}
	case FormatJSONLines:
		for _, one := range f.Keys.list() {
			out = append(out, one.field)
		}
	case FormatNMEAXDR:
		for _, name := range f.Transducers {
			out = append(out, name)
		}
		slices.Sort(out)
		if f.TalkerAddress {
			out = append([]string{"address"}, out...)
		}
	case FormatBinary:
		if f.Binary != nil {
			for _, one := range f.Binary.Fields {
				out = append(out, one.Field)
			}
		}
	default:
		out = slices.Clone(f.Fields)
	}
	return slices.DeleteFunc(out, func(name string) bool { return name == "skip" })
}

// carrier is the key that says which fields the frames have.
func (f Frame) carrier() string {
	switch f.Format {
	case FormatPattern:
		return "pattern"
	case FormatJSONLines:
		return "keys"
	case FormatNMEAXDR:
		return "transducers"
	case FormatBinary:
		return "binary.fields"
	}
	return "fields"
}

// Has tells whether a field of that name is in the frame.
func (f Frame) Has(field string) bool { return slices.Contains(f.Carried(), field) }
