package convert

import (
	"manobridge/convert/geometry"
	"manobridge/convert/uncertainty"
)

// Shared gives the contributions to a result under names that say what is one input, so that results can be combined
// with their correlation by uncertainty.Difference, Average and WeightedSum.
//
// Positions, their resolution and the wetting of the tube are drawn anew by every reading and are independent. All else
// of an instrument (slope, bores, zero, the error of its temperature probe) is one input for all its readings. Gravity,
// the ambient and the liquids, by their names in the configuration, are one input for all instruments of it.
//
// r must be a result of this converter that has a pressure; of any other it gives nothing.
func (c *Converter) Shared(r *Result) []uncertainty.Shared {
	if _, ok := r.Pressure(); !ok || r.Instrument != c.o.Instrument {
		return nil
	}
	out := make([]uncertainty.Shared, len(c.terms))
	for i := range c.terms {
		t, dof := &c.terms[i], c.dof[i]
		switch t.kind { // of this reading, not of its kind
		case ofHighExtra:
			dof = orInf(r.HighExtra.DOF)
		case ofLowExtra:
			dof = orInf(r.LowExtra.DOF)
		}
		s := uncertainty.Shared{Name: t.Name, Contribution: r.Contributions[i], Input: uncertainty.Input{DOF: dof}}
		switch {
		case t.kind == ofMeniscus, t.kind == ofVar && (t.v == geometry.HighPosition || t.v == geometry.LowPosition):
			s.Independent = true
			s.Name = c.o.Instrument + " " + t.Name
		case t.kind == ofAmbient, t.kind == ofFluidOwn, t.kind == ofVar && t.v == geometry.Gravity:
		default:
			s.Name = c.o.Instrument + " " + t.Name
		}
		out[i] = s
	}
	return out
}
