package configs

import (
	"slices"
	"time"
)

// Station is a thing on a port that is no manometer: its frames bring what other instruments need beside their positions,
// as a barometer in the room does, or a probe in the oil.
type Station struct {
	// Name is its key under stations.
	Name string `yaml:"-"`

	// Port names the entry under ports its frames come in on.
	Port string `yaml:"port" needed:"true"`
	// Address is what the frames of this station carry in their address field, in quotes.
	Address string `yaml:"address"`
}

// Channels says where the values come from that a result needs beside the positions. The temperature of the liquid has its
// own block, temperature. Left out: the instrument's own frames where they carry it, else the source of ambient, else the
// configured value.
type Channels struct {
	// AmbientC is the temperature of the air in the legs.
	AmbientC *Channel `yaml:"ambient_c"`
	// PressureHPa is station pressure, of the air in the legs.
	PressureHPa *Channel `yaml:"pressure_hpa"`
	// HumidityPct is the relative humidity of that air.
	HumidityPct *Channel `yaml:"humidity_pct"`
	// TiltDeg is how far the base stands off level in the plane of the tube.
	TiltDeg *Channel `yaml:"tilt_deg"`
}

// Channel is where one value comes from.
type Channel struct {
	// From is frame, fixed, or the name of a station or of another instrument whose frames carry the field. fixed: the
	// configured value, with its uncertainty as stated.
	From string `yaml:"from" needed:"true"`
	// MaxAge is how far in time a value may be from the reading it is used for.
	MaxAge Duration `yaml:"max_age" range:"[1s,24h]"`
	// WhenOld is what holds past that. uncertain: the configured value stands in, and the result is uncertain. bad: there is
	// no result.
	WhenOld string `yaml:"when_old" enum:"uncertain|bad"`
}

// The words of when_old.
const (
	OldIsUncertain = "uncertain"
	OldIsBad       = "bad"
)

func (c *Channel) setDefaults() {
	c.MaxAge = Duration(5 * time.Minute)
	c.WhenOld = OldIsUncertain
}

func (a *Ambient) setDefaults() {
	a.MaxAge = Duration(5 * time.Minute)
	a.WhenOld = OldIsUncertain
}

// channelFields are the fields of frames that are channels, beside the liquid's temperature; those of the air first.
var channelFields = [...]string{"ambient_c", "pressure_hpa", "humidity_pct", "tilt_deg"}

// Of gives what is stated for a field, nil where nothing is.
func (c *Channels) Of(field string) *Channel {
	switch field {
	case "ambient_c":
		return c.AmbientC
	case "pressure_hpa":
		return c.PressureHPa
	case "humidity_pct":
		return c.HumidityPct
	case "tilt_deg":
		return c.TiltDeg
	}
	return nil
}

// ChannelOf says where an instrument has the value of a field from: as stated for it; else its own frames where they carry
// it; else, for the air, the source of ambient where its frames do; else the configured value.
func (c *Config) ChannelOf(in *Instrument, field string) Channel {
	if stated := in.Channels.Of(field); stated != nil {
		return *stated
	}
	if in.Offline {
		return Channel{From: FromFrame} // a row of a file brings it or does not
	}
	if p := c.portAs(in.Port, in.Ask); p != nil && p.Has(field) {
		return Channel{From: FromFrame}
	}
	if a := &c.Ambient; a.From != "" && field != "tilt_deg" && c.brings(a.From, field) {
		return Channel{From: a.From, MaxAge: a.MaxAge, WhenOld: a.WhenOld}
	}
	return Channel{From: FromFixed}
}

func (c *Config) port(name string) *Port {
	i := slices.IndexFunc(c.Ports, func(p Port) bool { return p.Name == name })
	if i < 0 {
		return nil
	}
	return &c.Ports[i]
}

// source finds the port of the instrument or station of a name.
func (c *Config) source(name string) (port string, ok bool) {
	for i := range c.Stations {
		if c.Stations[i].Name == name {
			return c.Stations[i].Port, true
		}
	}
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return c.Instruments[i].Port, true
		}
	}
	return "", false
}

// brings tells whether the frames of an instrument or a station carry a field.
func (c *Config) brings(name, field string) bool {
	port, ok := c.source(name)
	if !ok {
		return false
	}
	p := c.portAs(port, c.ownAsk(name))
	return p != nil && p.Has(field)
}

// OnlyStations tells whether a port has stations and no instrument. Its frames need no position then.
func (c *Config) OnlyStations(port string) bool {
	return slices.ContainsFunc(c.Stations, func(s Station) bool { return s.Port == port }) &&
		!slices.ContainsFunc(c.Instruments, func(in Instrument) bool { return in.Port == port })
}

// Speakers gives what speaks on a port, instruments and stations, by address.
func (c *Config) Speakers(port string) map[string]string {
	at := map[string]string{}
	for i := range c.Instruments {
		if in := &c.Instruments[i]; in.Port == port {
			at[in.Address] = in.Name
		}
	}
	for i := range c.Stations {
		if s := &c.Stations[i]; s.Port == port {
			at[s.Address] = s.Name
		}
	}
	return at
}
