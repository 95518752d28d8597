package assemble

import (
	"manobridge/configs"
	"manobridge/convert"
	"manobridge/convert/quantity"
)

// given is a standard uncertainty as the file states it, with the degrees of freedom stated beside it. They go together:
// where an uncertainty stands in for another that was left out, its degrees of freedom come along.
type given struct {
	u   *float64
	dof float64 // 0 means infinite
}

// both is an uncertainty stated for the whole instrument.
func (b *builder) both(key string, u *float64) given { return given{u, b.in.Uncertainty.DOF[key]} }

// ofLimb is an uncertainty stated for one limb; limb may be nil.
func ofLimb(limb *configs.LimbUncertainty, key string, of func(*configs.LimbUncertainty) *float64) given {
	if limb == nil {
		return given{}
	}
	return given{of(limb), limb.DOF[key]}
}

// firstGiven is the first that is stated.
func firstGiven(list ...given) given {
	for _, g := range list {
		if g.u != nil {
			return g
		}
	}
	return given{}
}

// length makes a standard uncertainty of a length in mm, or the default marked as assumed.
func (g given) length(otherwise float64) convert.Stated[quantity.Length] {
	return convert.Stated[quantity.Length]{U: quantity.Millimetres(or(g.u, otherwise)), DOF: g.dof, Assumed: g.u == nil}
}

// kelvins does so for a temperature.
func (g given) kelvins(otherwise float64) convert.Stated[quantity.TemperatureDifference] {
	return convert.Stated[quantity.TemperatureDifference]{U: quantity.Kelvins(or(g.u, otherwise)), DOF: g.dof, Assumed: g.u == nil}
}
