package configs

// Config is everything one bridge is told.
type Config struct {
	// Site is a level of every topic and a tag of every series: lower-case letters, digits and hyphens.
	Site string `yaml:"site" name:"true" needed:"true"`
	// Bridge names this bridge among others of the site. Left out: the host name, up to its first dot.
	Bridge string `yaml:"bridge" name:"true"`
	// Location gives the local acceleration of free fall.
	Location Location `yaml:"location" needed:"true"`
	// Ambient is the air in the legs of the manometers, where nothing else is stated for a leg.
	Ambient Ambient `yaml:"ambient" needed:"true"`
	// Liquids are defined here by name, beside the built-in ones.
	Liquids []Liquid `yaml:"liquids" keyed:"Name"`
	// Ports are the serial ports, by a name of your own.
	Ports []Port `yaml:"ports" keyed:"Name"`
	// Stations are things on a port that are no manometers, by a name of your own: a barometer, a probe.
	Stations []Station `yaml:"stations" keyed:"Name"`
	// Instruments are the manometers, by the name they have in topics, series and reports.
	Instruments []Instrument `yaml:"instruments" keyed:"Name" needed:"true"`
	// Limits are bounds on pressures, by a name of your own, and what is done about them.
	Limits []Limit `yaml:"limits" keyed:"Name"`
	// Publish says where results are sent.
	Publish Publish `yaml:"publish"`
	// Journal is the file on this machine that keeps every result until it has been delivered.
	Journal Journal `yaml:"journal"`
	// Run sets how the daemon behaves as a process.
	Run RunOptions `yaml:"run"`
	// DisplayUnit is the unit of pressure that people are shown in watch, check and messages, as hPa, mmH2O or inH2O_4C.
	// Left out: Pa. Payloads, journal and series are in Pa whatever it is.
	DisplayUnit string `yaml:"display_unit"`
	// Operate is how a running bridge is looked at and worked with from its own machine.
	Operate Operate `yaml:"operate"`

	// Remarks are legal but worth a second look; check lists them. They stop nothing.
	Remarks []Problem `yaml:"-"`

	lines map[string]int
}

// Location gives the local acceleration of free fall: measured, which wins, or from latitude and height.
type Location struct {
	// LatitudeDeg is the geographic latitude in degrees, north positive. Needs height_m.
	LatitudeDeg *float64 `yaml:"latitude_deg" range:"[-90,90]"`
	// HeightM is the height above sea level in metres. Needs latitude_deg.
	HeightM *float64 `yaml:"height_m" range:"[-450,9000]"`
	// GravityMS2 is a measured or surveyed local gravity in m/s²; it wins over latitude and height.
	GravityMS2 *float64 `yaml:"gravity_m_s2" range:"[9.76,9.84]"`
	// GravityUMS2 is the standard uncertainty of the local gravity in m/s² (k = 1); 0 means exact.
	GravityUMS2 *float64 `yaml:"gravity_u_m_s2" range:"[0,0.05]"`
}

// Ambient is the air around the instruments.
type Ambient struct {
	// TemperatureC is the air temperature in °C.
	TemperatureC *float64 `yaml:"temperature_c" range:"[-40,60]" needed:"true"`
	// PressureHPa is station pressure in hPa, as a barometer in the room shows it: not reduced to sea level.
	PressureHPa *float64 `yaml:"pressure_hpa" range:"[300,1100]" needed:"true"`
	// RelativeHumidityPct is the relative humidity in %.
	RelativeHumidityPct *float64 `yaml:"relative_humidity_pct" range:"[0,100]" needed:"true"`
	// From is a station or an instrument whose frames carry ambient_c, pressure_hpa or humidity_pct, for every instrument
	// whose own do not. What they do not carry, and what is too old, is as stated here.
	From string `yaml:"from" canonical:"-"`
	// MaxAge is how far in time such a value may be from the reading it is used for.
	MaxAge Duration `yaml:"max_age" range:"[1s,24h]" canonical:"-"`
	// WhenOld is what holds past that. uncertain: the value stated here stands in, and results are uncertain. bad: there are
	// none.
	WhenOld string `yaml:"when_old" enum:"uncertain|bad" canonical:"-"`
}

// RunOptions sets how the daemon behaves as a process.
type RunOptions struct {
	// Drain is how long a planned stop may spend delivering what is waiting. What is left stays in the journal.
	Drain Duration `yaml:"drain" range:"[0s,10m]"`
}
