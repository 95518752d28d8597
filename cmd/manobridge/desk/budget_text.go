package desk

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/convert/uncertainty"
)

// String gives the budget as text.
func (b Budget) String() string {
	var s strings.Builder
	s.WriteString(b.Title + "\n")
	state := fmt.Sprintf("%.4f Pa (%s), liquid at %.2f °C", b.PressurePa, b.at, b.TemperatureC)
	if b.HighMM != nil {
		state += fmt.Sprintf(", high limb at %.3f mm", *b.HighMM)
	}
	switch {
	case b.Reading != nil:
		state += fmt.Sprintf(", the scale at %.4f %s, which is a height of %.3f mm", *b.Reading, b.Unit, *b.LowMM)
	case b.LowMM != nil:
		state += fmt.Sprintf(", low limb at %.3f mm", *b.LowMM)
	}
	if !b.OnScale {
		state += ", OFF THE SCALE"
	}
	s.WriteString(layout.Labelled("at", state) + "\n")
	var t layout.Table
	t.Head("input (* assumed)", "value", "u", "unit", "Pa/unit", "Pa", "share")
	exact, assumed := []string{}, false
	for _, l := range b.Lines {
		if l.SensitivityPa == nil {
			exact = append(exact, l.Input)
			continue
		}
		name := l.Input
		if l.Assumed {
			name, assumed = name+" *", true
		}
		t.Row(name, figure(l.Value, 6), figure(l.U, 3), l.Unit, figure(*l.SensitivityPa, 4), figure(math.Abs(l.ContributionPa), 3), percent(l.Share))
	}
	s.WriteString(t.String())
	if assumed {
		s.WriteString(layout.Wrap("  ", "  ", "* not stated in the configuration: a documented default stands in."))
	}
	slices.Sort(exact)
	if len(exact) > 0 {
		s.WriteString(layout.Wrap("  ", "  ", "Exact, u = 0: "+strings.Join(exact, ", ")+"."))
	}
	dof := "infinite"
	if b.EffectiveDOF != nil {
		dof = figure(*b.EffectiveDOF, 4)
	}
	s.WriteString("\n" + layout.Labelled("combined", figure(b.CombinedUPa, 4)+" Pa: the root of the sum of the squares"))
	s.WriteString(layout.Labelled("ν_eff", dof+" effective degrees of freedom (Welch-Satterthwaite)"))
	s.WriteString(layout.Labelled("factor", fmt.Sprintf("k = %.4f for %.2f %%", b.CoverageFactor, 100*b.Coverage)))
	s.WriteString(layout.Labelled("expanded", figure(b.ExpandedUPa, 4)+" Pa"))
	s.WriteString(layout.Labelled("result", uncertainty.Statement(b.PressurePa, b.ExpandedUPa, b.CoverageFactor, "Pa")))
	if b.MonteCarlo != nil {
		s.WriteString("\n" + b.MonteCarlo.text(&b))
	}
	s.WriteString(layout.List("Assumed", []string{
		"The inputs are independent of each other, and the result is a straight line in each over its uncertainty (JCGM 100:2008, 5.1.2); --monte-carlo does without the second.",
	}))
	return s.String()
}

// figure prints v with so many significant digits, without an exponent where that is readable.
func figure(v float64, digits int) string {
	s := strconv.FormatFloat(v, 'g', digits, 64)
	if a := math.Abs(v); v != 0 && a >= 1e-4 && a < 1e7 && strings.Contains(s, "e") {
		rounded, err := strconv.ParseFloat(s, 64)
		if err == nil {
			s = strconv.FormatFloat(rounded, 'f', -1, 64)
		}
	}
	return s
}

func percent(share float64) string { return fmt.Sprintf("%.1f %%", 100*share) }

// round takes off the last bits of a conversion to and from kelvin.
func round(v float64) float64 { return math.Round(v*1e6) / 1e6 }
