package bridge

import (
	"strconv"
	"strings"
	"time"

	"manobridge/configs"
	"manobridge/ingest"
	"manobridge/ingest/frame"
	"manobridge/ingest/modbus"
)

// PollOptions maps a port that asks, with the addresses of its instruments.
func PollOptions(p *configs.Port, addresses []string) ingest.PollOptions {
	bits := 1 + p.DataBits + p.StopBits // with the start bit
	if p.Parity != "none" {
		bits++
	}
	o := ingest.PollOptions{
		Port: p.Name, Timeout: time.Duration(p.Ask.Timeout), Gap: time.Duration(p.Ask.Gap), Echo: p.Ask.Echo, Turnaround: time.Duration(p.Ask.Turnaround), Character: time.Duration(bits) * time.Second / time.Duration(p.Baud),
	}
	registers := map[string]modbus.Register{}
	for name, r := range p.Ask.Registers.Named() {
		one := modbus.Register{Function: modbus.ReadHolding, At: uint16(r.At), Type: r.Type, Order: r.Order, Scale: r.Scale, Offset: r.Offset}
		if r.Table == "input" {
			one.Function = modbus.ReadInput
		}
		for _, none := range r.NoValue {
			one.NoValue = append(one.NoValue, strings.ReplaceAll(none, " ", ""))
		}
		registers[name] = one
	}
	for _, address := range addresses {
		if p.InFrames() {
			o.Instruments = append(o.Instruments, ingest.Asked{Address: address, Every: time.Duration(p.Ask.Every)})
			continue
		}
		unit, err := strconv.ParseUint(address, 10, 8)
		if err != nil {
			unit = 0 // refused with the others
		}
		o.Instruments = append(o.Instruments, ingest.Asked{Address: address, Unit: uint8(unit), Every: time.Duration(p.Ask.Every), Registers: registers})
	}
	return o
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
