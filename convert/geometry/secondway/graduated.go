package secondway

// GraduatedDesc is a reservoir instrument whose scale was engraved in pascals for one liquid, one gravity, one gas and one
// temperature, and is read under others.
//
// The engraver is played first principles too: at the marks' own conditions the mark found at y along the tube is the
// pressure that the walk through an instrument at those conditions gives with the meniscus there, A·r + a·s held. The
// reading is then two steps: find by bisection where the meniscus really stands; shrink that length to the scale's
// engraving temperature; ask the engraver what is written there. How steep the tube is and how wide the reservoir must
// not matter to the reading, and tests may check that.
type GraduatedDesc struct {
	G            float64 // m/s²
	T, ZeroT     float64 // K, of liquid and scale, now and at the zero
	Liquid       Liquid
	GasDensity   float64 // kg/m³, in both legs
	ScaleGrows   float64 // 1/K, linear
	MadeFor      MadeFor
	Slope        float64 // rad
	Bore         float64 // m
	Reservoir    float64 // m, bore
	RestFromMark float64 // m, where the meniscus stands at rest, along the tube from the mark 0
}

// MadeFor is what an engraved scale holds true for.
type MadeFor struct {
	LiquidDensity float64 // kg/m³
	G             float64 // m/s²
	GasDensity    float64 // kg/m³
	T             float64 // K, of the scale
}

// Marks is what an engraved scale shows, in Pa of the engraving.
type Marks struct {
	Reading, Zero float64
	Head          float64 // m, true height of the low meniscus above the high one
}

// Graduated gives what the scale shows when p(high) − p(low) = dp, in Pa.
func Graduated(d GraduatedDesc, dp float64) (Marks, error) {
	now := d.filled()
	engraver := InclinedReservoirDesc{
		Setting: Setting{G: d.MadeFor.G, T: d.MadeFor.T, ZeroT: d.MadeFor.T},
		Liquid:  Liquid{Density: d.MadeFor.LiquidDensity}, Slope: d.Slope, Bore: d.Bore, ReservoirBore: d.Reservoir,
		High: Leg{Fluid: Liquid{Density: d.MadeFor.GasDensity}}, Low: Leg{Fluid: Liquid{Density: d.MadeFor.GasDensity}},
	}
	for _, i := range [...]InclinedReservoirDesc{now, engraver} {
		if err := i.check(); err != nil {
			return Marks{}, err
		}
	}
	p, err := InclinedReservoir(now, dp)
	if err != nil {
		return Marks{}, err
	}
	bench := engraver.vessel(engraver.now(d.MadeFor.T))
	written := func(shown float64) float64 { return -bench.rise(bench.low.volume(shown)) }
	return Marks{Reading: written(p.Low), Zero: written(p.ZeroLow), Head: p.Head}, nil
}

func (d GraduatedDesc) filled() InclinedReservoirDesc {
	return InclinedReservoirDesc{
		Setting: Setting{G: d.G, T: d.T, ZeroT: d.ZeroT, Scale: Scale{Expansion: d.ScaleGrows, Reference: d.MadeFor.T}},
		Liquid:  d.Liquid, Slope: d.Slope, Bore: d.Bore, ReservoirBore: d.Reservoir, Rest: d.RestFromMark,
		High: Leg{Fluid: Liquid{Density: d.GasDensity}}, Low: Leg{Fluid: Liquid{Density: d.GasDensity}},
	}
}
