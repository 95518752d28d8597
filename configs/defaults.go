package configs

import (
	"strings"
	"time"
)

// defaulter is a block of the file that starts from defaults. Every default of the file is in this one.
type defaulter interface{ setDefaults() }

// Default is what a file that states nothing starts from; it is not yet a configuration that can be used. hostName
// gives the name of the bridge.
func Default(hostName string) Config {
	var c Config
	c.setDefaults()
	c.Bridge = NameFrom(hostName)
	return c
}

func (c *Config) setDefaults() {
	c.Ambient.setDefaults()
	c.Journal.setDefaults()
	c.Run.setDefaults()
}

func (j *Journal) setDefaults() {
	j.Path = "manobridge.db"
	j.Durability = "strict"
	j.KeepDays = 400 // a calibration interval of a year, and a month to look back on it
	j.KeepFreeMB = 256
}

func (r *RunOptions) setDefaults() { r.Drain = Duration(10 * time.Second) }

func (p *Port) setDefaults() {
	p.DataBits = 8
	p.Parity = "none"
	p.StopBits = 1
	p.Silence = Duration(10 * time.Second)
	p.Reopen.setDefaults()
	p.Frame.setDefaults()
}

func (r *Reopen) setDefaults() {
	r.First = Duration(time.Second)
	r.Longest = Duration(30 * time.Second)
}

func (f *Frame) setDefaults() {
	f.Separator = ","
	f.Decimal = "."
	f.Terminator = "any"
	f.MaxGap = Duration(2 * time.Second)
}

func (l *Liquid) setDefaults() { l.ExpansionForm = "linear" }

func (i *Instrument) setDefaults() {
	i.Temperature.setDefaults()
	i.Diagnosis.setDefaults()
}

func (t *Temperature) setDefaults() { t.MaxAge = Duration(time.Minute) }

func (m *MQTT) setDefaults() {
	m.Prefix = "manobridge"
	m.LiveWithin = Duration(5 * time.Second)
	m.BacklogPerS = 200
}

func (s *Series) setDefaults() { s.ReadBack = Duration(5 * time.Minute) }

// NameFrom makes a legal name of a host name: up to its first dot, lower case, every other character a hyphen. It is
// empty where nothing is left.
func NameFrom(hostName string) string {
	host, _, _ := strings.Cut(strings.ToLower(hostName), ".")
	name := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, host)
	if len(name) > longestName {
		name = name[:longestName]
	}
	return strings.Trim(name, "-")
}
