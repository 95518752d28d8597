package configs

import "slices"

// Port is one serial port and the form of the frames that come in on it.
type Port struct {
	// Name is its key under ports.
	Name string `yaml:"-"`

	// Device is the path of the port. It may change when adapters are plugged elsewhere; usb does not.
	Device string `yaml:"device"`
	// USB finds the adapter by what it says of itself, wherever it is plugged in.
	USB *USB `yaml:"usb"`
	// Baud is the line rate in bit/s, as set in the digitizer.
	Baud int `yaml:"baud" legal:"50,75,110,134,150,200,300,600,1200,1800,2400,4800,9600,14400,19200,28800,38400,57600,76800,115200,128000,153600,230400,250000,256000,460800,500000,576000,921600,1000000,1152000,1500000,2000000,2500000,3000000,3500000,4000000" needed:"true"`
	// DataBits per character.
	DataBits int `yaml:"data_bits" range:"[5,8]"`
	// Parity of the line.
	Parity string `yaml:"parity" enum:"none|even|odd|mark|space"`
	// StopBits per character.
	StopBits int `yaml:"stop_bits" legal:"1,2"`
	// Frame is the form of what comes in.
	Frame Frame `yaml:"frame" needed:"true"`
	// Silence is how long an instrument may go without a good frame before it becomes bad.
	Silence Duration `yaml:"silence" range:"[100ms,24h]"`
	// Reopen sets how often a port that cannot be opened is tried again.
	Reopen Reopen `yaml:"reopen"`
}

// USB is the stable identity of a USB adapter, as the command ports prints it.
type USB struct {
	// Vendor is the vendor number, four hexadecimal digits in quotes.
	Vendor string `yaml:"vendor" pattern:"^[0-9A-Fa-f]{4}$" means:"four hexadecimal digits in quotes" needed:"true"`
	// Product is the product number, four hexadecimal digits in quotes.
	Product string `yaml:"product" pattern:"^[0-9A-Fa-f]{4}$" means:"four hexadecimal digits in quotes" needed:"true"`
	// Serial is the adapter's serial number; needed only where two alike adapters are plugged in.
	Serial string `yaml:"serial"`
}

// Reopen is the back-off between attempts to open a port: the wait doubles from first to longest.
type Reopen struct {
	// First is the wait after the first failure.
	First Duration `yaml:"first" range:"[10ms,1h]"`
	// Longest is the longest wait between two attempts.
	Longest Duration `yaml:"longest" range:"[10ms,1h]"`
}

// The frame formats.
const FormatDelimited = "delimited"

// Frame is the form of one frame. Which keys apply depends on the format.
type Frame struct {
	// Format names the form. delimited: a line of text with fields between separators.
	Format string `yaml:"format" enum:"delimited" needed:"true"`

	// Fields names the fields in the order they come. Lengths in mm, temperatures in °C, pressure in hPa,
	// humidity in %, tilt in degrees, reading in the unit of the engraved scale. skip passes over one.
	Fields []string `yaml:"fields" only:"delimited" enum:"address|high_mm|low_mm|reading|temperature_c|tilt_deg|ambient_c|pressure_hpa|humidity_pct|skip" min:"1" max:"64"`
	// Separator between two fields as it is sent, or the word whitespace for any run of blanks and tabs.
	Separator string `yaml:"separator" only:"delimited"`
	// Decimal is the decimal sign the digitizer sends.
	Decimal string `yaml:"decimal" only:"delimited" enum:".|,"`
	// Terminator ends a line: lf, cr, crlf, or any of them.
	Terminator string `yaml:"terminator" only:"delimited" enum:"any|lf|cr|crlf"`
	// HeaderLines is how many lines the digitizer sends after power-up or opening that are not readings.
	HeaderLines int `yaml:"header_lines" only:"delimited" range:"[0,1000]"`
	// ErrorWords are what the digitizer sends in place of a number when it has none, beside the usual ERR, OVER, ---- and
	// the like: a word, or a number such as -9999 exactly as it is sent. They are never taken for 0.
	ErrorWords []string `yaml:"error_words" only:"delimited" max:"64"`
	// Checksum says how a line proves that it arrived as it was sent. Left out: the lines carry none.
	Checksum *Checksum `yaml:"checksum" only:"delimited"`
	// MaxGap is the longest pause inside one frame; what follows a longer one is a new frame.
	MaxGap Duration `yaml:"max_gap" range:"[1ms,1m]"`
}

// Checksum is the check value at the end of a line, in hexadecimal digits.
type Checksum struct {
	// Name of the algorithm. Names such as crc-16/ccitt are left out because they stand for several: find out what the
	// digitizer's manual gives for the characters 123456789. 29B1 is crc-16/ibm-3740, 31C3 crc-16/xmodem, 2189
	// crc-16/kermit, 906E crc-16/x-25, D64E crc-16/genibus.
	Name string `yaml:"name" enum:"xor-8|sum-8|sum-16|twos-complement-8|crc-8/smbus|crc-8/maxim|crc-16/modbus|crc-16/arc|crc-16/ibm-3740|crc-16/xmodem|crc-16/kermit|crc-16/x-25|crc-16/genibus|crc-32" needed:"true"`
	// Marker stands between what is checked and the digits, such as "*". Left out: the digits follow at once.
	Marker string `yaml:"marker"`
	// Skip is how many characters at the start of the line are not covered, such as 1 for a start character.
	Skip int `yaml:"skip" range:"[0,511]"`
	// CoversMarker is true where the marker is covered as well.
	CoversMarker bool `yaml:"covers_marker"`
	// LowByteFirst is true where the bytes of a value of more than one stand in that order.
	LowByteFirst bool `yaml:"low_byte_first"`
}

// Has tells whether a field of that name is in the frame.
func (f Frame) Has(field string) bool { return slices.Contains(f.Fields, field) }
