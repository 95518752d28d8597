package configs

import (
	"slices"
	"strconv"
	"strings"
)

// OwnAsk is what one instrument is asked where that is not what ask of its port says for all.
type OwnAsk struct {
	// Every is the interval at which it is asked. Left out: that of the port.
	Every Duration `yaml:"every" range:"[50ms,1h]"`
	// Registers hold its values, in place of those of the port; modbus-rtu.
	Registers *Registers `yaml:"registers"`
}

// Asked is one instrument or station on a port that asks, with what holds for it.
type Asked struct {
	Address   string
	Every     Duration
	Registers Registers
}

// Asked gives who is asked on a port, in the order of addresses.
func (c *Config) Asked(p *Port) (list []Asked) {
	if p.Ask == nil {
		return nil
	}
	for address, name := range c.Speakers(p.Name) {
		own := c.portAs(p.Name, c.ownAsk(name))
		list = append(list, Asked{address, own.Ask.Every, own.Ask.Registers})
	}
	slices.SortFunc(list, func(a, b Asked) int { return strings.Compare(a.Address, b.Address) })
	return list
}

// ownAsk gives the block of an instrument; nil where it has none.
func (c *Config) ownAsk(name string) *OwnAsk {
	for i := range c.Instruments {
		if c.Instruments[i].Name == name {
			return c.Instruments[i].Ask
		}
	}
	return nil
}

// portAs is the port as it holds for an instrument with a block of its own; nil where there is no such port.
func (c *Config) portAs(name string, own *OwnAsk) *Port {
	p := c.port(name)
	if p == nil || p.Ask == nil || own == nil {
		return p
	}
	port, ask := *p, *p.Ask
	port.Ask = &ask
	if own.Every != 0 {
		ask.Every = own.Every
	}
	if own.Registers != nil && !p.InFrames() {
		ask.Registers = *own.Registers
	}
	return &port
}

// registersNeeded tells whether somebody on the port has no registers of its own.
func (c *Config) registersNeeded(port string) bool {
	for _, name := range c.Speakers(port) {
		if own := c.ownAsk(name); own == nil || own.Registers == nil {
			return true
		}
	}
	return len(c.Speakers(port)) == 0
}

// positionNeeded tells whether the registers of a port are those of an instrument, or of nobody yet; a station has no position.
func (c *Config) positionNeeded(port string) bool {
	for i := range c.Instruments {
		if in := &c.Instruments[i]; in.Port == port && (in.Ask == nil || in.Ask.Registers == nil) {
			return true
		}
	}
	return len(c.Speakers(port)) == 0
}

// Unit reads the unit number of an address of modbus-rtu: "17", or "17/left" where several instruments are in one unit.
func Unit(address string) (unit uint8, ok bool) {
	number, name, several := strings.Cut(address, "/")
	n, err := strconv.Atoi(number)
	if err != nil || n < 1 || n > 247 || strconv.Itoa(n) != number || several && strings.TrimSpace(name) == "" {
		return 0, false
	}
	return uint8(n), true
}
