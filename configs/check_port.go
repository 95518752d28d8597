package configs

import (
	"fmt"
	"slices"
	"strings"
)

func (k *checker) ports() {
	devices := map[string]string{}
	for _, p := range k.c.Ports {
		path := join("ports", p.Name)
		k.oneOf(path, "device", "usb")
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
		if !slices.ContainsFunc(k.c.Instruments, func(in Instrument) bool { return in.Port == p.Name }) && !k.bad("instruments") && !k.bad(path) {
			k.report(path, Problem{Fault: "has no instrument", Hint: fmt.Sprintf("name it in an instrument as port: %s, or remove it", p.Name)})
		}
	}
}

func (k *checker) frame(path string, f Frame) {
	if f.Format == "" || k.bad(path) || k.bad(join(path, "format")) {
		return
	}
	k.only(path, blockFields[Frame](), "format", f.Format)
	if f.Format == FormatDelimited {
		k.delimited(path, f)
	}
}

func (k *checker) delimited(path string, f Frame) {
	fieldsPath := join(path, "fields")
	if !k.stated(fieldsPath) {
		k.missing(fieldsPath, "name the fields in the order they come, as [address, low_mm, temperature_c]")
	} else if !k.bad(fieldsPath) && !f.Has("high_mm") && !f.Has("low_mm") && !f.Has("reading") {
		k.report(fieldsPath, Problem{Fault: "has no position", Hint: "high_mm, low_mm or reading is needed"})
	}
	for i, name := range f.Fields {
		if name != "skip" && name != "" && slices.Index(f.Fields, name) < i && !k.bad(fieldsPath) {
			k.report(fieldsPath, Problem{Seen: quote(name), Fault: "is named twice", Hint: "a field that is not wanted is named skip"})
		}
	}
	if c := f.Checksum; c != nil && (len(c.Marker) > 8 || strings.ContainsAny(c.Marker, "0123456789abcdefABCDEF")) {
		k.report(join(path, "checksum.marker"), Problem{Seen: quote(c.Marker), Fault: "is not", Allowed: "up to 8 characters, none of them a hexadecimal digit"})
	}
	if separator := join(path, "separator"); !k.bad(separator) {
		if len(f.Separator) > 8 && f.Separator != "whitespace" || strings.ContainsAny(f.Separator, "0123456789+-.") {
			k.report(separator, Problem{Seen: quote(f.Separator), Fault: "is not", Allowed: "what stands between two numbers, up to 8 characters, or the word whitespace"})
		} else if strings.Contains(f.Separator, f.Decimal) {
			k.report(separator, Problem{Seen: quote(f.Separator), Fault: "holds the decimal sign " + quote(f.Decimal), Hint: "the two must differ"})
		}
	}
}

// sharedPorts demands that the frames of instruments on one port can be told apart.
func (k *checker) sharedPorts() {
	for _, p := range k.c.Ports {
		if k.bad(join(join("ports", p.Name), "frame.fields")) {
			continue
		}
		addressed, owner, first := p.Frame.Has("address"), map[string]string{}, ""
		for _, in := range k.c.Instruments {
			path := join("instruments", in.Name)
			address := join(path, "address")
			if in.Port != p.Name || k.bad(address) {
				continue
			}
			switch other, twice := owner[in.Address]; {
			case !addressed && in.Address != "":
				k.report(address, Problem{Seen: quote(in.Address), Fault: "is not used: the frames of port " + p.Name + " have no address field",
					Hint: "add address to the fields of the frame, or remove it here"})
			case !addressed && first != "":
				k.report(join(path, "port"), Problem{Seen: quote(p.Name), Fault: "already has instrument " + first + ", and its frames have no address field",
					Hint: "add address to the fields of the frame, or give each instrument its own port"})
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
