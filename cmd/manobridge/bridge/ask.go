package bridge

import (
	"strings"
	"time"

	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/modbus"
)

// PollOptions maps a port that asks, with who is asked.
func PollOptions(p *configs.Port, asked []configs.Asked) ingest.PollOptions {
	bits := 1 + p.DataBits + p.StopBits // with the start bit
	if p.Parity != "none" {
		bits++
	}
	o := ingest.PollOptions{
		Port: p.Name, Timeout: time.Duration(p.Ask.Timeout), Gap: time.Duration(p.Ask.Gap), Echo: p.Ask.Echo, Turnaround: time.Duration(p.Ask.Turnaround), Character: time.Duration(bits) * time.Second / time.Duration(p.Baud),
	}
	for _, a := range asked {
		one := ingest.Asked{Address: a.Address, Every: time.Duration(a.Every)}
		if !p.InFrames() {
			one.Unit, _ = configs.Unit(a.Address) // 0 is refused with the others
			one.Registers = registers(a.Registers)
		}
		o.Instruments = append(o.Instruments, one)
	}
	return o
}

func registers(list configs.Registers) map[string]modbus.Register {
	out := map[string]modbus.Register{}
	for name, r := range list.Named() {
		one := modbus.Register{Function: modbus.ReadHolding, At: uint16(r.At), Type: r.Type, Order: r.Order, Scale: r.Scale, Offset: r.Offset}
		if r.Table == "input" {
			one.Function = modbus.ReadInput
		}
		for _, none := range r.NoValue {
			one.NoValue = append(one.NoValue, strings.ReplaceAll(none, " ", ""))
		}
		out[name] = one
	}
	return out
}

// LineTalk maps a port that asks in lines of text; decoder makes one for its frames.
func LineTalk(p *configs.Port, decoder func() (frame.Decoder, error)) *ingest.LineTalk {
	ends := map[string]string{"cr": "\r", "lf": "\n", "crlf": "\r\n", "any": "\n"}
	end, ok := ends[p.Frame.Terminator]
	if !ok {
		end = "\n" // nmea-xdr has none of its own
	}
	return &ingest.LineTalk{Request: p.Ask.Request + ends[p.Ask.RequestEnd], Prompt: p.Ask.Prompt, Terminator: end, Decoder: decoder}
}
