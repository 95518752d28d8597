package configs

import (
	"maps"
	"reflect"
	"slices"
	"time"
)

// Ask is for instruments that speak only when asked. With modbus-rtu the address of each instrument on the port is its unit
// number, in quotes as "17", or "17/left" and "17/right" where several are in one unit; what differs for one of them stands
// in its own ask. With lines, frame says what an answer looks like.
type Ask struct {
	// Protocol that they speak. modbus-rtu: functions 03 and 04; nothing is ever written to an instrument. lines: a request
	// and an answer in lines of text.
	Protocol string `yaml:"protocol" enum:"modbus-rtu|lines" needed:"true"`
	// Request is what is sent to ask, as "#{address}". {address} stands for the address of the instrument.
	Request string `yaml:"request" only:"lines"`
	// RequestEnd is what is sent behind it.
	RequestEnd string `yaml:"request_end" only:"lines" enum:"cr|lf|crlf|none"`
	// Prompt is what the instrument sends behind its answer to say that it may be asked again, in quotes as "> ".
	Prompt string `yaml:"prompt" only:"lines"`
	// Gap is the longest pause inside an answer, to a tenth of a second.
	Gap Duration `yaml:"gap" range:"[100ms,10s]" only:"lines"`
	// Echo says that each question comes back before its answer, as from an adapter that hears itself.
	Echo bool `yaml:"echo"`
	// Turnaround is a pause before each question, for adapters and instruments that need one.
	Turnaround Duration `yaml:"turnaround" range:"[1ms,1s]"`
	// Every is the interval at which each instrument is asked.
	Every Duration `yaml:"every" range:"[50ms,1h]"`
	// Timeout is how long an instrument may take to begin its answer, to a tenth of a second. It must be longer than its
	// slowest answer: nothing in Modbus RTU, nor in a line without an address, ties an answer to its question. For the same
	// reason the first question waits as long once the port is open.
	Timeout Duration `yaml:"timeout" range:"[100ms,10s]"`
	// Registers hold the values, each under the name of its field.
	Registers Registers `yaml:"registers" only:"modbus-rtu"`
}

// The protocols.
const (
	AskModbusRTU = "modbus-rtu"
	AskLines     = "lines"
)

// AddressMark stands for the address in the request of ask.
const AddressMark = "{address}"

// InFrames tells whether what the port hears has the form of its frame, asked for or not.
func (p *Port) InFrames() bool { return p.Ask == nil || p.Ask.Protocol == AskLines }

// Registers says where each value stands, in the unit of its name once scale and offset are applied.
type Registers struct {
	// HighMM holds the position in the high limb in mm.
	HighMM *Register `yaml:"high_mm"`
	// LowMM holds the position in the low limb in mm.
	LowMM *Register `yaml:"low_mm"`
	// Reading holds the reading in the unit of the engraved scale.
	Reading *Register `yaml:"reading"`
	// TemperatureC holds the liquid's temperature in °C.
	TemperatureC *Register `yaml:"temperature_c"`
	// TiltDeg holds the tilt in degrees.
	TiltDeg *Register `yaml:"tilt_deg"`
	// AmbientC holds the ambient temperature in °C.
	AmbientC *Register `yaml:"ambient_c"`
	// PressureHPa holds the ambient pressure in hPa.
	PressureHPa *Register `yaml:"pressure_hpa"`
	// HumidityPct holds the relative humidity in %.
	HumidityPct *Register `yaml:"humidity_pct"`

	SignalRegisters `yaml:",inline"`
}

// Register is one value of an instrument that is asked.
type Register struct {
	// Table it stands in: holding (function 03) or input (function 04).
	Table string `yaml:"table" enum:"holding|input"`
	// At is its number on the line, from 0. What a manual calls 40001 is at: 0 of table holding, 30001 at: 0 of table input.
	At int `yaml:"at" range:"[0,65535]" needed:"true"`
	// Type of the number. Those of 32 bits take two registers; float32 is that of IEEE 754.
	Type string `yaml:"type" enum:"int16|uint16|int32|uint32|float32" needed:"true"`
	// Order of the four bytes of two registers as they are sent, A the most significant. Makers differ, so it has no
	// default. 12.5 as float32 is sent 41 48 00 00 in ABCD, 00 00 41 48 in CDAB, 48 41 00 00 in BADC, 00 00 48 41 in DCBA.
	Order string `yaml:"order" enum:"ABCD|CDAB|BADC|DCBA"`
	// Scale is what the number is multiplied with, as 0.01 where hundredths are sent.
	Scale float64 `yaml:"scale" range:"[-1e9,1e9]"`
	// Offset is added after that, in the unit of the field's name.
	Offset float64 `yaml:"offset" range:"[-1e9,1e9]"`
	// NoValue are what stands for "no value", in hexadecimal digits in the order sent, as "7F FF". NaN and infinity always
	// do.
	NoValue []string `yaml:"no_value" max:"64" pattern:"^[0-9A-Fa-f]{2}( ?[0-9A-Fa-f]{2})*$" means:"bytes of two hexadecimal digits each, in quotes, as \"7F FF\""`
}

func (a *Ask) setDefaults() {
	a.Every = Duration(time.Second)
	a.Timeout = Duration(300 * time.Millisecond)
	a.Gap = Duration(200 * time.Millisecond)
	a.RequestEnd = "cr"
}

func (r *Register) setDefaults() {
	r.Table = "holding"
	r.Scale = 1
}

// Carried lists the fields that the frames or the answers of the port have.
func (p *Port) Carried() []string {
	if p.InFrames() {
		return p.Frame.Carried()
	}
	return append([]string{"address"}, slices.Sorted(maps.Keys(p.Ask.Registers.Named()))...)
}

// Has tells whether a field of that name is among them.
func (p *Port) Has(field string) bool { return slices.Contains(p.Carried(), field) }

// Words is how many registers the value takes.
func (r *Register) Words() int {
	if r.Type == "int16" || r.Type == "uint16" {
		return 1
	}
	return 2
}

// Named gives each register that is stated by the name of its field.
func (r Registers) Named() map[string]*Register {
	out := map[string]*Register{}
	v := reflect.ValueOf(r)
	for _, f := range fieldsOf(v.Type()) {
		if one, ok := v.FieldByIndex(f.index).Interface().(*Register); ok && one != nil {
			out[f.key] = one
		}
	}
	return out
}
