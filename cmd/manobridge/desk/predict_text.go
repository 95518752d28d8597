package desk

import (
	"fmt"
	"math"
	"strings"

	"manobridge/cmd/manobridge/layout"
)

// String gives the prediction as text.
func (p Prediction) String() string {
	var b strings.Builder
	b.WriteString(p.Title + "\n")
	b.WriteString(layout.Labelled("from", fmt.Sprintf("%.4f Pa (%s)", p.FromPa, p.From)))
	b.WriteString(layout.Labelled("to", fmt.Sprintf("%.4f Pa, a change of %+.4f Pa", p.ToPa, p.ChangePa)))
	b.WriteString("\n" + p.High.sentence("high") + p.Low.sentence("low"))
	if p.IndicatedTo != nil {
		b.WriteString(layout.Wrap("", "  ", fmt.Sprintf("The scale goes from %.5g to %.5g %s.", *p.IndicatedFrom, *p.IndicatedTo, p.Unit)))
	}
	b.WriteString("\n")
	var t layout.Table
	t.Head("limb", "along", "vertical", "from mark", "to mark", "plain U-tubes")
	t.Head("", "mm", "mm", "mm", "mm", "moved")
	for _, l := range []struct {
		name string
		m    *Movement
	}{{"high", &p.High}, {"low", &p.Low}} {
		ratio := "-"
		if l.m.Ratio != nil {
			ratio = fmt.Sprintf("%.4f", *l.m.Ratio)
		}
		t.Row(l.name, fmt.Sprintf("%+.4f", l.m.AlongMM), fmt.Sprintf("%+.4f", l.m.VerticalMM), mark(l.m.FromMM), mark(l.m.ToMM), ratio)
	}
	b.WriteString(t.String())
	if p.PlainMM != nil {
		b.WriteString("\n" + layout.Wrap("", "", p.comparison()))
	}
	b.WriteString("\n" + layout.Wrap("", "", p.verdict()))
	b.WriteString(layout.List("Assumed", p.Assumptions))
	return b.String()
}

// sentence says in words what one meniscus does.
func (m *Movement) sentence(limb string) string {
	if m.Direction == "none" {
		return layout.Wrap("", "  ", "The meniscus in the "+limb+" limb does not move.")
	}
	s := fmt.Sprintf("The meniscus in the %s limb moves %s by %.4f mm", limb, m.Direction, math.Abs(m.AlongMM))
	if math.Abs(m.AlongMM-m.VerticalMM) > 5e-5 { // shows in the digits printed
		s += fmt.Sprintf(" along the limb, %.4f mm in height", math.Abs(m.VerticalMM))
	}
	switch {
	case m.ToMM != nil && m.Read:
		s += fmt.Sprintf("; the scale then reads %.4f mm.", *m.ToMM)
	case m.ToMM != nil:
		s += fmt.Sprintf("; it then stands at %.4f mm, which is not read.", *m.ToMM)
	default:
		s += "; it has no scale in mm."
	}
	return layout.Wrap("", "  ", s)
}

// comparison says how much further the read menisci moved than those of a plain U-tube.
func (p *Prediction) comparison() string {
	s := fmt.Sprintf("In a plain U-tube each meniscus would have moved %.4f mm.", *p.PlainMM)
	for _, l := range []struct {
		name string
		m    *Movement
	}{{"high", &p.High}, {"low", &p.Low}} {
		if l.m.Read {
			s += fmt.Sprintf(" The %s limb moves %.4f times as far.", l.name, *l.m.Ratio)
		}
	}
	return s
}

// verdict says whether the state can be read.
func (p *Prediction) verdict() string {
	switch {
	case p.Refusal != "":
		return "It does NOT stay on its scale or in its tube: " + p.Refusal + "."
	case !p.OnScale:
		return "It does NOT stay on its scale."
	}
	s := fmt.Sprintf("It stays on its scale. Read back, these positions give %.4f Pa, with an expanded uncertainty of %.2g Pa.", *p.ReadBackPa, p.ExpandedUPa)
	if len(p.Causes) > 0 {
		s += " The result would be marked: " + strings.Join(p.Causes, ", ") + "."
	}
	return s
}

// mark prints a position where there is one.
func mark(mm *float64) string {
	if mm == nil {
		return "-"
	}
	return fmt.Sprintf("%.4f", *mm)
}
