package assemble

import (
	"fmt"

	"manobridge/configs"
)

// unused refuses what is stated and would change nothing: a line, a tilt or a temperature passed over in silence may be
// the one that mattered.
func (b *builder) unused() error {
	g, k, kind := &b.in.Geometry, &b.cond, b.in.Geometry.Kind
	legs, port, tilt := k.Legs, Port(b.c, b.in), b.c.ChannelOf(b.in, "tilt_deg").From
	if legs == nil {
		legs = &configs.Legs{}
	}
	for _, c := range []struct {
		stated bool
		key    string
		why    string
	}{
		{kind == configs.TwoLiquid && (legs.High != nil || legs.Low != nil), "legs", "its chambers stand under level taps; line_fluid says what is over them"},
		{kind == configs.TwoLiquid && k.ZeroDistanceMM != nil, "zero_distance_mm", "its chambers move with a tilt as well; level it and take a new zero"},
		{kind == configs.Sealed && legs.Low != nil, "legs.low", "its low limb is closed"},
		{kind == configs.Graduated && (k.TiltDeg != nil || k.CrossTiltDeg != nil || k.ZeroDistanceMM != nil), "a tilt", "the slope behind an engraved scale is not known; level it"},
		{kind == configs.Graduated && k.ScaleReferenceC != nil && g.ScaleTemperatureC != nil && *k.ScaleReferenceC != *g.ScaleTemperatureC,
			"scale_reference_c", "geometry.scale_temperature_c says the same with another value; keep one"},
		{b.in.Zero != nil && b.in.Zero.TiltDeg != nil && *b.in.Zero.TiltDeg != or(k.TiltDeg, 0) && k.ZeroDistanceMM == nil, "zero.tilt_deg",
			"how far a tilt since the zero moves it needs zero_distance_mm"},
		{port != nil && tilt == configs.FromFrame && k.ZeroDistanceMM == nil, "tilt_deg of its frames", "how far a tilt since the zero moves it needs zero_distance_mm; " +
			"or name that field skip"},
		{port != nil && tilt != configs.FromFrame && tilt != configs.FromFixed && k.ZeroDistanceMM == nil, "channels.tilt_deg", "how far a tilt since the zero moves it needs " +
			"zero_distance_mm"},
	} {
		if c.stated {
			return fmt.Errorf("%s cannot be used by kind %s: %s", c.key, kind, c.why)
		}
	}
	return nil
}
