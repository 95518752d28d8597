package convert

import "manobridge/convert/quantity"

// MaxInputs bounds how many uncertain inputs one instrument's equation may have.
const MaxInputs = 48

// ValueKind says which pressure a result has.
type ValueKind uint8

// The kinds. A bad result has no pressure.
const (
	NoValue ValueKind = iota
	DifferentialValue
	AbsoluteValue // sealed instruments
)

// Result is a pressure with its uncertainty and the conditions it was computed under, or the reason why there is none.
// It embeds its Reading, so the raw frame and both clocks stay with the value.
type Result struct {
	Reading

	Kind         ValueKind
	Differential quantity.DifferentialPressure // where Kind is DifferentialValue
	Absolute     quantity.AbsolutePressure     // where Kind is AbsoluteValue

	// CombinedU is the combined standard uncertainty u_c, ExpandedU = CoverageFactor · CombinedU, both in Pa and not
	// negative. Source: JCGM 100:2008, 5.1.2 and 6.2.1.
	CombinedU      float64
	ExpandedU      float64
	CoverageFactor float64
	// EffectiveDOF is ν_eff of JCGM 100:2008, G.4.1; +Inf where every input's is infinite.
	EffectiveDOF float64

	// Head is the vertical distance between the menisci, positive when the low limb's stands higher, zero and scale
	// corrected.
	Head Optional[quantity.Length]

	// Contributions holds c_i·u(x_i) in Pa, signed, for the inputs in the order of Converter.Inputs.
	Contributions [MaxInputs]float64

	Status     Status
	StatusCode uint32 // OPC UA
	NE107      NE107
	Causes     []Cause // worst first; nil when there is none
	// Config is the hash of the coefficient set that produced the result.
	Config string

	// Sample tells that the result is kept but not published: it belongs to the next averaged result of its instrument.
	Sample bool
	// Average says what a result that closes a window of averaging was made of; nil for the result of one reading.
	Average *Average
}

// Pressure gives the value in Pa whatever its kind, and whether there is one.
func (r *Result) Pressure() (pa float64, ok bool) {
	switch r.Kind {
	case DifferentialValue:
		return float64(r.Differential), true
	case AbsoluteValue:
		return float64(r.Absolute), true
	}
	return 0, false
}

// Mark adds a cause that was found beside the conversion. Where it makes the result bad, the pressure goes and why says so;
// otherwise the value stays, with less trust in it. The first
// refusal stays the reason.
func (r *Result) Mark(why *Refusal) {
	if w, known := statusOf[why.Code]; known && w.status != Bad || r.Refusal != nil {
		r.add(why.Code)
		return
	}
	*r = r.refuse(why)
}
