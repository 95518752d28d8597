package configs

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

func (k *checker) ask(path string, p *Port) {
	at, a := join(path, "ask"), p.Ask
	if a == nil {
		return
	}
	if a.Protocol == "" || k.bad(join(at, "protocol")) {
		return
	}
	k.only(at, blockFields[Ask](), "protocol", a.Protocol)
	if d := join(path, "data_bits"); a.Protocol == AskModbusRTU && p.DataBits != 8 && !k.bad(d) {
		k.report(d, Problem{Seen: strconv.Itoa(p.DataBits), Fault: "is not", Allowed: "8, which modbus-rtu needs"})
	}
	every := join(at, "every")
	if silence := join(path, "silence"); !k.bad(every) && !k.bad(silence) && p.Silence <= a.Every+a.Timeout {
		k.report(silence, Problem{Seen: p.Silence.String(), Fault: fmt.Sprintf("is not longer than every %s and timeout %s of ask together", a.Every, a.Timeout),
			Hint: "each instrument would be bad between two answers"})
	}
	if a.Protocol == AskLines {
		k.askLines(at, p)
		return
	}
	registers := join(at, "registers")
	if !k.stated(registers) && k.c.registersNeeded(p.Name) {
		k.missing(registers, "name the field that each register holds, as {low_mm: {at: 0, type: float32, order: ABCD}}")
	}
	k.registers(registers, &a.Registers, k.stated(registers) && k.c.positionNeeded(p.Name))
}

// registers checks a block of registers; position tells whether one of them must hold a position.
func (k *checker) registers(path string, r *Registers, position bool) {
	named := r.Named()
	names := slices.Sorted(maps.Keys(named))
	if position && !k.touched(path) && !hasPosition(names) {
		k.report(path, Problem{Fault: "has no position", Hint: "high_mm, low_mm, reading or the signal of a limb, as low_counts, is needed"})
	}
	k.oneSignal(path, names)
	for _, name := range names {
		k.register(join(path, name), named[name])
	}
}

// askLines checks how instruments are asked in lines of text.
func (k *checker) askLines(at string, p *Port) {
	request := join(at, "request")
	switch r := p.Ask.Request; {
	case k.bad(request):
	case r == "":
		k.missing(request, "what asks for one answer, as \"#{address}\"")
	case len(r) > 128:
		k.report(request, Problem{Seen: quote(r), Fault: "is longer than", Allowed: "128 characters"})
	case !strings.Contains(r, AddressMark) && len(k.c.Speakers(p.Name)) > 1:
		k.report(request, Problem{Seen: quote(r), Fault: "asks all of them alike", Hint: "put " + AddressMark + " where the address stands"})
	}
	if f := join(join(parent(at), "frame"), "format"); p.Frame.Format == FormatBinary && !k.bad(f) {
		k.report(f, Problem{Seen: quote(FormatBinary), Fault: "is no line of text", Hint: "ask: {protocol: lines} needs delimited, pattern, json-lines or nmea-xdr"})
	}
	if gap := join(at, "gap"); p.Ask.Gap > p.Ask.Timeout && !k.bad(gap) && !k.bad(join(at, "timeout")) {
		k.report(gap, Problem{Seen: p.Ask.Gap.String(), Fault: "is longer than timeout " + p.Ask.Timeout.String()})
	}
}

func (k *checker) register(path string, r *Register) {
	if k.bad(path) || k.bad(join(path, "type")) {
		return
	}
	order := join(path, "order")
	switch {
	case r.Words() == 2 && !k.stated(order):
		k.missing(order, "type "+r.Type+" takes two registers, and makers differ in how they send them: find it in the manual, or try a value that you know")
	case r.Words() == 1 && k.stated(order):
		k.report(order, Problem{Fault: "is not used by type " + r.Type, Hint: "its two bytes come in one order always"})
	}
	if at := join(path, "at"); r.At+r.Words() > 65536 && !k.bad(at) {
		k.report(at, Problem{Seen: strconv.Itoa(r.At), Fault: "has no second register behind it, which type " + r.Type + " needs"})
	}
	if first := map[string]int{"holding": 40001, "input": 30001}[r.Table]; first > 0 && r.At >= first && r.At < first+9999 {
		k.remark(join(path, "at"), fmt.Sprintf("%d is the number on the line: if it is what the manual calls the register, write at: %d", r.At, r.At-first))
	}
	if scale := join(path, "scale"); r.Scale == 0 && !k.bad(scale) {
		k.report(scale, Problem{Seen: "0", Fault: "makes every value the same"})
	}
	for i, none := range r.NoValue {
		if n := len(strings.ReplaceAll(none, " ", "")) / 2; n != 2*r.Words() && !k.bad(join(path, "no_value")) {
			k.report(fmt.Sprintf("%s[%d]", join(path, "no_value"), i), Problem{Seen: quote(none), Fault: fmt.Sprintf("has %d bytes, type %s has %d", n, r.Type, 2*r.Words())})
		}
	}
}

// unit demands that the address of an instrument that is asked begins with a unit number.
func (k *checker) unit(path, address string) {
	if _, ok := Unit(address); address != "" && !ok {
		k.report(path, Problem{Seen: quote(address), Fault: "is not", Allowed: "a unit number, 1 to 247 in quotes, without leading zeros, or with a name behind it where several instruments are in one unit, as \"17/left\""})
	}
}
