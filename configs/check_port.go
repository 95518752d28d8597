package configs

import (
	"fmt"
	"strings"
)

func (k *checker) ports() {
	devices := map[string]string{}
	for i := range k.c.Ports {
		p := &k.c.Ports[i]
		path := join("ports", p.Name)
		k.oneOf(path, "device", "usb")
		if p.Ask != nil && p.Ask.Protocol == AskLines {
			if !k.stated(join(path, "frame")) {
				k.missing(join(path, "frame"), "ask: {protocol: lines} needs the form of the answers")
			}
		} else {
			k.oneOf(path, "frame", "ask")
		}
		if p.Device != "" {
			if other, twice := devices[p.Device]; twice {
				k.report(join(path, "device"), Problem{Seen: quote(p.Device), Fault: "is also the device of port " + other, Hint: "one port can be opened once"})
			}
			devices[p.Device] = p.Name
		}
		if p.Reopen.First > p.Reopen.Longest {
			k.report(join(path, "reopen"), Problem{Fault: fmt.Sprintf("first %s is longer than longest %s", p.Reopen.First, p.Reopen.Longest)})
		}
		k.frame(join(path, "frame"), p.Frame)
		k.ask(path, p)
		if len(k.c.Speakers(p.Name)) == 0 && !k.bad("instruments") && !k.bad(path) {
			k.report(path, Problem{Fault: "has no instrument", Hint: fmt.Sprintf("name it in an instrument as port: %s, or remove it", p.Name)})
		}
	}
}

// sharedPorts demands that the frames of instruments on one port can be told apart.
func (k *checker) sharedPorts() {
	for _, p := range k.c.Ports {
		if k.unclear(&p) {
			continue
		}
		addressed, owner, first := p.Has("address"), map[string]string{}, ""
		if p.Ask != nil && p.Ask.Protocol == AskLines && strings.Contains(p.Ask.Request, AddressMark) {
			addressed = true // by whom was asked
		}
		for _, in := range k.speakers() {
			path := in.path
			address := join(path, "address")
			if in.Port != p.Name || k.bad(address) {
				continue
			}
			if !p.InFrames() {
				k.unit(address, in.Address)
			}
			switch other, twice := owner[in.Address]; {
			case p.Ask != nil && addressed && in.Address == "":
				k.missing(address, "what it is asked by, in quotes")
			case !addressed && in.Address != "":
				k.report(address, Problem{Seen: quote(in.Address), Fault: "is not used: the frames of port " + p.Name + " have no address field",
					Hint: addressHint(p.Frame) + ", or remove it here"})
			case !addressed && first != "":
				k.report(join(path, "port"), Problem{Seen: quote(p.Name), Fault: "already has instrument " + first + ", and its frames have no address field",
					Hint: addressHint(p.Frame) + ", or give each instrument its own port"})
			case addressed && in.Address == "":
				k.missing(address, "the frames of port "+p.Name+" carry one")
			case addressed && twice:
				k.report(address, Problem{Seen: quote(in.Address), Fault: "is also the address of " + other + " on port " + p.Name})
			}
			if in.Address != "" {
				owner[in.Address] = in.Name
			}
			if first == "" {
				first = in.Name
			}
		}
	}
}

// speaker is an instrument or a station, as one that speaks on a port.
type speaker struct {
	Station
	path string
}

func (k *checker) speakers() []speaker {
	out := make([]speaker, 0, len(k.c.Instruments)+len(k.c.Stations))
	for _, in := range k.c.Instruments {
		out = append(out, speaker{Station{Name: in.Name, Port: in.Port, Address: in.Address}, join("instruments", in.Name)})
	}
	for _, s := range k.c.Stations {
		out = append(out, speaker{s, join("stations", s.Name)})
	}
	return out
}

// addressHint says how frames come to have an address, by format.
func addressHint(f Frame) string {
	if f.Format == FormatNMEAXDR {
		return "state talker_address: true in the frame, where the talker tells them apart"
	}
	return "add address to the fields of the frame"
}
