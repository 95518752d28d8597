package configs

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
	// Frame is the form of what comes in where the instruments speak by themselves.
	Frame Frame `yaml:"frame"`
	// Ask says how instruments are asked that do not. Either this or frame.
	Ask *Ask `yaml:"ask"`
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
	// Interface is the number of the port on an adapter with several, two hexadecimal digits in quotes.
	Interface string `yaml:"interface" pattern:"^[0-9A-Fa-f]{2}$" means:"two hexadecimal digits in quotes"`
}

// Reopen is the back-off between attempts to open a port: the wait doubles from first to longest.
type Reopen struct {
	// First is the wait after the first failure.
	First Duration `yaml:"first" range:"[10ms,1h]"`
	// Longest is the longest wait between two attempts.
	Longest Duration `yaml:"longest" range:"[10ms,1h]"`
}

// The frame formats.
const (
	FormatDelimited = "delimited"
	FormatPattern   = "pattern"
	FormatJSONLines = "json-lines"
	FormatNMEAXDR   = "nmea-xdr"
	FormatBinary    = "binary"
)

// Frame is the form of one frame. Which keys apply depends on the format.
type Frame struct {
	// Format names the form. delimited: a line of text with fields between separators. pattern: a line that a regular
	// expression takes apart. json-lines: one JSON object a line. nmea-xdr: transducer sentences of NMEA 0183. binary:
	// frames of a fixed length that are not text.
	Format string `yaml:"format" enum:"delimited|pattern|json-lines|nmea-xdr|binary" needed:"true"`

	// Fields names the fields in the order they come. Lengths in mm, temperatures in °C, pressure in hPa,
	// humidity in %, tilt in degrees, reading in the unit of the engraved scale; counts, v, ma, px and distance_mm are the
	// signals that the instrument's block signal turns into positions. skip passes over one.
	Fields []string `yaml:"fields" only:"delimited" enum:"address|high_mm|low_mm|reading|temperature_c|tilt_deg|ambient_c|pressure_hpa|humidity_pct|high_counts|low_counts|high_v|low_v|high_ma|low_ma|high_distance_mm|low_distance_mm|high_px|low_px|fiducial_1_px|fiducial_2_px|fiducial_3_px|fiducial_4_px|score|edges|frame_counter|contact|skip" min:"1" max:"64"`
	// Separator between two fields as it is sent, or the word whitespace for any run of blanks and tabs.
	Separator string `yaml:"separator" only:"delimited"`
	// Decimal is the decimal sign the digitizer sends.
	Decimal string `yaml:"decimal" only:"delimited,pattern,json-lines" enum:".|,"`
	// Terminator ends a line: lf, cr, crlf, or any of them.
	Terminator string `yaml:"terminator" only:"delimited,pattern,json-lines,nmea-xdr" enum:"any|lf|cr|crlf"`
	// HeaderLines is how many lines the digitizer sends after power-up or opening that are not readings.
	HeaderLines int `yaml:"header_lines" only:"delimited,pattern,json-lines,nmea-xdr" range:"[0,1000]"`
	// ErrorWords are what the digitizer sends in place of a number when it has none, beside the usual ERR, OVER, ---- and
	// the like: a word, or a number such as -9999 exactly as it is sent. They are never taken for 0.
	ErrorWords []string `yaml:"error_words" only:"delimited,pattern,json-lines,nmea-xdr" max:"64"`
	// Checksum says how a line proves that it arrived as it was sent. Left out: the lines carry none. nmea-xdr has its
	// own, and binary states it in its block.
	Checksum *Checksum `yaml:"checksum" only:"delimited,pattern,json-lines"`

	// Pattern is a regular expression in RE2 syntax that matches a whole line. Its named groups are the fields, with the
	// names that fields has, as in 'H=(?P<low_mm>[0-9.]+) T=(?P<temperature_c>[0-9.]+)'.
	Pattern string `yaml:"pattern" only:"pattern"`
	// Keys names the member of the JSON object that holds each field.
	Keys *Members `yaml:"keys" only:"json-lines"`
	// Transducers names the field that each transducer of the sentence holds, as in {LOW: low_mm, OIL: temperature_c}.
	// Lengths come in metres there, and are turned into mm.
	Transducers map[string]string `yaml:"transducers" only:"nmea-xdr" enum:"high_mm|low_mm|reading|temperature_c|tilt_deg|ambient_c|pressure_hpa|humidity_pct|high_counts|low_counts|high_v|low_v|high_ma|low_ma|high_distance_mm|low_distance_mm|high_px|low_px|fiducial_1_px|fiducial_2_px|fiducial_3_px|fiducial_4_px|score|edges|frame_counter|contact"`
	// TalkerAddress takes the talker, the letters between $ and XDR, for the address of the instrument.
	TalkerAddress bool `yaml:"talker_address" only:"nmea-xdr"`
	// Binary describes frames that are not text.
	Binary *Binary `yaml:"binary" only:"binary"`

	// MaxGap is the longest pause inside one frame. A frame with a longer one inside is refused, as its end may belong to
	// another.
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
