package sizing

import (
	"fmt"
	"strings"

	"manobridge/cmd/manobridge/layout"
	"manobridge/configs"
)

// assumptions are what the numbers of the candidates rest on.
func (s *search) assumptions() []string {
	list := []string{
		fmt.Sprintf("Compared at %g °C, the middle of the span, with the zero taken there.", s.midC()),
		fmt.Sprintf("A position is known with a standard uncertainty of %g mm, in the zero reading too; a step of as much is what the digitizer tells apart.", s.PositionMM),
		"1 mrad: what the end of the range shows wrong when the base is tilted by it along the tube and the zero taken again. 5 K: when the liquid is that much warmer and nothing compensates.",
		"The drift of the zero with temperature and tilt, and the wetting of the tube, are not in it: take the zero again, and state meniscus_mm.",
	}
	if s.Config == nil {
		list = append(list, "Standard gravity, 9.80665 m/s², taken as exact: the true one differs by up to 0.3 % and is known once the place is (-c FILE).")
	}
	if len(s.out.Candidates) > 0 {
		if a := s.out.Candidates[0].assumed; len(a) > 0 {
			list = append(list, "Defaults in the first candidate's uncertainty, each better stated: "+strings.Join(a, "; ")+".")
		}
		unknown := map[string]bool{}
		for _, k := range s.out.Candidates {
			if _, known := flashPoint(k.Liquid); !known && k.Liquid != "water" && k.Liquid != "mercury" && !unknown[k.Liquid] {
				unknown[k.Liquid] = true
				list = append(list, "Whether "+k.Liquid+" is too volatile is not known here: see its data sheet.")
			}
		}
	}
	return list
}

// String gives the outcome as text.
func (s Sizing) String() string {
	var b strings.Builder
	b.WriteString(layout.Wrap("", "  ", fmt.Sprintf("%g to %g Pa, resolved to %g Pa, from %g to %g °C, scale up to %g mm: %d of %d candidates will do",
		s.RangePa[0], s.RangePa[1], s.ResolvePa, s.TemperatureC[0], s.TemperatureC[1], s.MaxLengthMM, s.Accepted, s.Tried)))
	if len(s.Candidates) > 0 {
		b.WriteString("\n" + s.table())
		b.WriteString("\n" + s.Candidates[0].first())
	} else {
		b.WriteString("\n" + layout.Wrap("", "  ", "No candidate will do. The reasons below say what to give way in: length, resolution, temperature or liquid."))
	}
	if len(s.Refused) > 0 {
		b.WriteString("\nRefused, with the one that came nearest\n")
		for _, r := range s.Refused {
			b.WriteString(layout.Wrap(fmt.Sprintf("%6d  ", r.Count), "        ", r.Reason+" ("+r.Example+")"))
		}
	}
	b.WriteString(layout.List("Assumed", s.Assumptions))
	b.WriteString(layout.List("Cautions", s.Cautions))
	return b.String()
}

// table lists the candidates, best first.
func (s Sizing) table() string {
	var t layout.Table
	t.Head("liquid", "slope", "bores", "scale", "moves", "step", "1 mrad", "5 K", "±U")
	t.Head("", "°", "mm", "mm", "mm/Pa", "Pa", "Pa", "Pa", "Pa")
	for _, k := range s.Candidates {
		slope, bores := fmt.Sprintf("%g", k.SlopeDeg), ""
		if k.Kind == configs.UTube {
			slope, bores = "U", fmt.Sprintf("%g/%g", k.BoreMM, k.BoreMM)
		} else {
			bores = fmt.Sprintf("%g/%g", k.BoreMM, *k.ReservoirMM)
		}
		t.Row(k.Liquid, slope, bores, fmt.Sprintf("%.0f", k.LengthMM), fmt.Sprintf("%.3g", k.SensitivityMMPerPa), fmt.Sprintf("%.2g", k.ResolutionPa),
			fmt.Sprintf("%.2g", k.TiltPa), fmt.Sprintf("%.2g", k.WarmPa), fmt.Sprintf("%.2g", k.ExpandedUPa))
	}
	return t.String()
}

// first says what limits the best one and how it stands in a configuration.
func (k *Candidate) first() string {
	s := layout.Wrap("", "  ", fmt.Sprintf("The first is limited by %s (%.0f %% of the variance at %g Pa), then %s (%.0f %%).",
		k.Limits[0].Input, 100*k.Limits[0].Share, k.WorstAtPa, k.Limits[1].Input, 100*k.Limits[1].Share))
	s += "In a configuration:\n"
	for _, line := range strings.Split(strings.TrimRight(k.Configuration, "\n"), "\n") {
		s += "  " + line + "\n"
	}
	return s
}
