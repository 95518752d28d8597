package review

import (
	"fmt"
	"time"

	"manobridge/configs"
)

// Asked says of every port that asks what a round takes of its line, against the intervals it is to be kept at.
func Asked(c *configs.Config) []string {
	var out []string
	for i := range c.Ports {
		p := &c.Ports[i]
		asked := c.Asked(p)
		if len(asked) == 0 {
			continue
		}
		bits := 1 + p.DataBits + p.StopBits // with the start bit
		if p.Parity != "none" {
			bits++
		}
		character := time.Duration(bits) * time.Second / time.Duration(p.Baud)
		silence := max(character*7/2, 1750*time.Microsecond, time.Duration(p.Ask.Turnaround)) // as Modbus over Serial Line V1.02, 2.5.1.1
		var round time.Duration
		share, shortest, longest := 0.0, asked[0].Every, asked[0].Every
		for _, a := range asked {
			characters, questions := talk(p, a)
			each := time.Duration(characters)*character + time.Duration(questions)*silence
			round += each
			share += each.Seconds() / time.Duration(a.Every).Seconds()
			shortest, longest = min(shortest, a.Every), max(longest, a.Every)
		}
		every := short(shortest)
		if shortest != longest {
			every += " to " + short(longest)
		}
		text := fmt.Sprintf("port %s asks %d of them every %s: a round takes %v of the line at %d bit/s, which is then busy %.0f %% of the time, beside the time they take to answer; one that is switched off takes %s more",
			p.Name, len(asked), every, round.Round(time.Millisecond), p.Baud, 100*share, short(p.Ask.Timeout))
		if share > 1 {
			text += "; NOTE: the line cannot keep up; ask less often, or at a higher baud rate"
		}
		out = append(out, text)
	}
	return out
}

// talk is how many characters one instrument's questions and answers have, at the most, and how many questions there are.
// For lines an answer of forty characters is taken.
func talk(p *configs.Port, a configs.Asked) (characters, questions int) {
	if p.InFrames() {
		request := len(p.Ask.Request) + 1
		if p.Ask.Echo {
			request *= 2
		}
		return request + len(p.Ask.Prompt) + 40, 1
	}
	for _, r := range a.Registers.Named() { // each register by itself, which is the most
		characters += 8 + 5 + 2*r.Words() // Modbus Application Protocol V1.1b3, 6.3
		questions++
	}
	if p.Ask.Echo {
		characters += 8 * questions
	}
	return characters, questions
}
