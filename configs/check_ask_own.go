package configs

import "fmt"

// ownAsk checks what an instrument says of its own asking. port is as it holds for the instrument.
func (k *checker) ownAsk(path string, in *Instrument, port *Port) {
	at := join(path, "ask")
	if in.Ask == nil || port == nil || k.bad(at) {
		return
	}
	if port.Ask == nil {
		k.report(at, Problem{Fault: "is not used: port " + port.Name + " listens", Hint: "state ask at the port, or remove it here"})
		return
	}
	if silence := join(join("ports", port.Name), "silence"); port.Silence <= port.Ask.Every+port.Ask.Timeout && k.stated(join(at, "every")) && !k.bad(silence) && !k.bad(join(at, "every")) {
		k.report(join(at, "every"), Problem{Seen: port.Ask.Every.String(), Fault: fmt.Sprintf("with timeout %s is not shorter than silence %s of port %s", port.Ask.Timeout, port.Silence, port.Name),
			Hint: "it would be bad between two answers"})
	}
	registers := join(at, "registers")
	if in.Ask.Registers == nil {
		return
	}
	if port.InFrames() {
		k.report(registers, Problem{Fault: "is not used with protocol " + AskLines})
		return
	}
	k.registers(registers, in.Ask.Registers, true)
}

// carriesNo says that what is heard of an instrument has no such field, and where to look.
func (in *Instrument) carriesNo(field string) string {
	if in.Ask != nil && in.Ask.Registers != nil {
		return "its own registers, which take the place of those of port " + in.Port + ", hold no " + field
	}
	return "the frames of port " + in.Port + " carry no " + field
}
