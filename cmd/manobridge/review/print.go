package review

import (
	"fmt"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert/quantity"
)

// String gives the sheet as text.
func (s Sheet) String() string {
	var b strings.Builder
	noun := "instruments"
	if len(s.Instruments) == 1 {
		noun = "instrument"
	}
	fmt.Fprintf(&b, "Site %s, bridge %s: %d %s, no problem found.\n", s.Site, s.Bridge, len(s.Instruments), noun)
	assumed := ""
	if s.Gravity.Assumed {
		assumed = ", assumed"
	}
	b.WriteString(layout.Wrap("", "  ", fmt.Sprintf("Gravity %.5f m/s², u = %.2g m/s²%s (%s)", float64(s.Gravity.Value), s.Gravity.U, assumed, s.Gravity.Source)))
	for _, c := range s.Instruments {
		b.WriteString("\n" + c.String())
	}
	if len(s.Asked) > 0 {
		b.WriteString("\n")
	}
	for _, a := range s.Asked {
		b.WriteString(layout.Wrap("", "  ", a))
	}
	if len(s.Limits) > 0 {
		b.WriteString("\nLimits; no figure is built in, confirm them with the authority having jurisdiction\n")
		unit, by := "", 1.0
		if len(s.Instruments) > 0 {
			unit, by = s.Instruments[0].Unit, s.Instruments[0].PerPa
		}
		for _, l := range s.Limits {
			b.WriteString(layout.Wrap("  ", "    ", l.text(unit, by)))
		}
	}
	b.WriteString(layout.List("Cautions", s.Cautions))
	if len(s.Remarks) > 0 {
		b.WriteString("\nWorth a second look\n")
		for _, r := range s.Remarks {
			b.WriteString(layout.Wrap("  ", "    ", r))
		}
	}
	return b.String()
}

// String gives one instrument as text.
func (c Card) String() string {
	var b strings.Builder
	where := "read from files"
	if c.Port != "" {
		where = "port " + c.Port
		if c.Address != "" {
			where += " address " + c.Address
		}
	}
	fmt.Fprintf(&b, "%s: %s with %s, %s\n", c.Name, c.Kind, c.Liquid, where)
	line := func(label, text string) {
		b.WriteString(layout.Wrap(fmt.Sprintf("  %-14s", label), strings.Repeat(" ", 16), text))
	}
	line("equation", c.Equation)
	line("liquid from", c.Source)
	line("channels", strings.Join(c.Channels, "; "))
	if c.Average != "" {
		line("averaged", c.Average)
	}
	unit, by := c.Unit, c.PerPa
	if unit == "" {
		unit, by = "Pa", 1
	}
	if len(c.Points) > 0 {
		line("sensitivity", fmt.Sprintf("%.4g mm/%s along the %s limb", c.SensitivityMMPerPa/by, unit, c.Limb))
		line("on scale", fmt.Sprintf("%.5g to %.5g %s", c.ScalePa[0]*by, c.ScalePa[1]*by, unit))
		if c.RangeStated {
			line("range", fmt.Sprintf("%.5g to %.5g %s as stated", c.RangePa[0]*by, c.RangePa[1]*by, unit))
		}
		if c.ResolutionPa != nil {
			line("resolution", fmt.Sprintf("%.2g %s for one step of the digitizer", *c.ResolutionPa*by, unit))
		} else {
			line("resolution", "within position_mm: resolution_mm is not stated")
		}
	}
	for _, p := range c.Points {
		text := quantity.FormatWithUncertainty(p.PressurePa*by, p.ExpandedUncertaintyPa*by, p.CoverageFactor, unit)
		if p.LowMM != nil {
			text += fmt.Sprintf(", low limb at %.1f mm", *p.LowMM)
		}
		if p.HighMM != nil {
			text += fmt.Sprintf(", high limb at %.1f mm", *p.HighMM)
		}
		if !p.OnScale {
			text += ", OFF THE SCALE"
		}
		if p.Largest != "" {
			text += fmt.Sprintf("; most from %s (%.0f %%)", p.Largest, 100*p.LargestShare)
		}
		line("at "+p.Where, text)
	}
	line("coefficients", c.Config)
	if len(c.Assumed) > 0 {
		line("assumed", strings.Join(c.Assumed, "; "))
	}
	for _, n := range c.Notes {
		line("note", n)
	}
	return b.String()
}
