package assemble

import "manobridge/convert"

// average gives an averaged instrument the input that the scatter of its readings is. Where a position is worked out of a
// signal it has one already, and brings both through it.
func (b *builder) average(o *convert.Options) {
	if b.in.Average == nil {
		return
	}
	for _, limb := range []*convert.LimbUncertainties{&o.U.High, &o.U.Low} {
		if limb.Extra == nil {
			limb.Extra = &convert.ExtraInput{Name: "as a mean"}
		}
	}
}
