package review

import (
	"fmt"
	"time"

	"manobridge/configs"
)

// Asked says of every port that asks what a round takes of its line, against the interval it is to be kept at.
func Asked(c *configs.Config) []string {
	var out []string
	for i := range c.Ports {
		p := &c.Ports[i]
		n := len(c.Speakers(p.Name))
		if p.Ask == nil || n == 0 {
			continue
		}
		bits := 1 + p.DataBits + p.StopBits // with the start bit
		if p.Parity != "none" {
			bits++
		}
		character := time.Duration(bits) * time.Second / time.Duration(p.Baud)
		silence := max(character*7/2, 1750*time.Microsecond, time.Duration(p.Ask.Turnaround)) // as Modbus over Serial Line V1.02, 2.5.1.1
		each := time.Duration(questionBytes(p))*character + silence
		round := time.Duration(n) * each
		text := fmt.Sprintf("port %s asks %d of them every %s: a round takes %v of the line at %d bit/s, beside the time they take to answer; one that is switched off takes %s more",
			p.Name, n, short(p.Ask.Every), round.Round(time.Millisecond), p.Baud, short(p.Ask.Timeout))
		if round > time.Duration(p.Ask.Every) {
			text += "; NOTE: the line cannot keep up; ask less often, or at a higher baud rate"
		}
		out = append(out, text)
	}
	return out
}

// questionBytes is how many characters one instrument's questions and answers have; for lines an answer of forty.
func questionBytes(p *configs.Port) int {
	if p.InFrames() {
		n := len(p.Ask.Request) + 1 + len(p.Ask.Prompt) + 40
		if p.Ask.Echo {
			n += len(p.Ask.Request) + 1
		}
		return n
	}
	n := 0
	for _, r := range p.Ask.Registers.Named() {
		n += 8 + 5 + 2*r.Words() // Modbus Application Protocol V1.1b3, 6.3; each register by itself, which is the most
	}
	if p.Ask.Echo {
		n += 8 * len(p.Ask.Registers.Named())
	}
	return n
}
