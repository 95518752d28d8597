package configs

import (
	"fmt"
	"slices"
)

// needs lists what each kind of manometer, and each format of frame, cannot do without. Pairs of which exactly one is needed are joined by a stroke.
var needs = map[string][]string{
	UTube:             {"scale_mm"},
	InclinedReservoir: {"scale_mm", "slope_deg|slope_ratio", "reservoir_bore_mm|area_ratio"},
	LimbPair:          {"high", "low"},
	InvertedUTube:     {"scale_mm", "line_fluid"},
	TwoLiquid:         {"scale_mm", "tube_bore_mm", "chamber_bore_mm", "chamber_liquid", "line_fluid"},
	Profile:           {"scale_mm", "points", "reservoir_bore_mm|area_ratio"},
	Sealed:            {"scale_mm", "bore_mm"},
	Graduated:         {"unit", "liquid_density_kg_m3"},
	FormatDelimited:   {"fields"},
	FormatPattern:     {"pattern"},
	FormatJSONLines:   {"keys"},
	FormatNMEAXDR:     {"transducers"},
	FormatBinary:      {"binary"},
}

// wider lists pairs of bores of which the second must be the larger.
var wider = [][2]string{
	{"bore_mm", "reservoir_bore_mm"}, {"tube_bore_mm", "chamber_bore_mm"}, {"bore_mm", "cistern_bore_mm"},
}

func (k *checker) geometry(path string, in *Instrument) {
	g := &in.Geometry
	k.only(path, blockFields[Geometry](), "kind", g.Kind)
	for _, key := range needs[g.Kind] {
		if a, b, pair := cutStroke(key); pair {
			k.oneOf(path, a, b)
		} else if !k.stated(join(path, key)) {
			k.missing(join(path, key), "kind "+g.Kind+" needs it")
		}
	}
	k.rising(join(path, "scale_mm"), g.ScaleMM, "mark")
	k.rising(join(path, "scale"), g.Scale, "mark")
	k.bores(path, g)
	k.fluidNamed(join(path, "line_fluid"), g.LineFluid)
	k.fluidNamed(join(path, "chamber_liquid"), g.ChamberLiquid)
	k.fluidsDiffer(path, in)
	switch g.Kind {
	case LimbPair:
		k.limb(join(path, "high"), g.High, g.Low)
		k.limb(join(path, "low"), g.Low, g.High)
	case Profile:
		k.profile(path, g)
	case Sealed:
		k.cistern(path, g)
	case Graduated:
		if g.Unit != "" && k.o.PressureUnit != nil && !k.bad(join(path, "unit")) {
			if err := k.o.PressureUnit(g.Unit); err != nil {
				k.report(join(path, "unit"), Problem{Seen: quote(g.Unit), Fault: "is not a unit of pressure", Hint: err.Error()})
			}
		}
	case InclinedReservoir:
		if g.SlopeDeg != nil && *g.SlopeDeg < 5 {
			k.remark(join(path, "slope_deg"), withUnit(*g.SlopeDeg, "°")+" is flat: below 5° the meniscus stretches along the tube and the straightness of the tube decides")
		}
	}
}

// bores wants the bores a kind needs, and a reservoir that is wider than its tube.
func (k *checker) bores(path string, g *Geometry) {
	at := func(key string) string { return join(path, key) }
	switch g.Kind {
	case InclinedReservoir, Profile:
		// With the ratio of the areas given the bore itself moves nothing, unless the liquid expands in it.
		for _, key := range []string{at("reservoir_bore_mm"), k.condition(parent(path), "charge_ml")} {
			if k.stated(key) && !k.stated(at("bore_mm")) {
				k.missing(at("bore_mm"), lastKey(key)+" needs it")
			}
		}
	case UTube, InvertedUTube:
		each := k.stated(at("high_bore_mm")) || k.stated(at("low_bore_mm"))
		switch {
		case each && k.stated(at("bore_mm")):
			k.report(at("bore_mm"), Problem{Fault: "contradicts high_bore_mm and low_bore_mm", Hint: "state one bore for both limbs, or one for each"})
		case each:
			for _, key := range []string{"high_bore_mm", "low_bore_mm"} {
				if !k.stated(at(key)) {
					k.missing(at(key), "each limb needs its bore, or bore_mm for both")
				}
			}
		case !k.stated(at("bore_mm")):
			k.missing(at("bore_mm"), "state it, or high_bore_mm and low_bore_mm")
		}
	}
	values := map[string]*float64{
		"bore_mm": g.BoreMM, "reservoir_bore_mm": g.ReservoirBoreMM, "tube_bore_mm": g.TubeBoreMM,
		"chamber_bore_mm": g.ChamberBoreMM, "cistern_bore_mm": g.CisternBoreMM,
	}
	for _, pair := range wider {
		narrow, wide := values[pair[0]], values[pair[1]]
		if narrow != nil && wide != nil && !k.bad(at(pair[0])) && !k.bad(at(pair[1])) && *narrow >= *wide {
			k.report(at(pair[1]), Problem{Seen: withUnit(*wide, "mm"), Fault: "is not wider than " + pair[0] + ",", Allowed: "above " + withUnit(*narrow, "mm"), Hint: "(the two swapped?)"})
		}
	}
}

// fluidsDiffer wants the fluids on the two sides of an interface to be two.
func (k *checker) fluidsDiffer(path string, in *Instrument) {
	names := []struct{ key, name string }{
		{"liquid", in.Liquid}, {"chamber_liquid", in.Geometry.ChamberLiquid}, {"line_fluid", in.Geometry.LineFluid},
	}
	for i, a := range names {
		for _, b := range names[i+1:] {
			if at := join(path, b.key); a.name != "" && a.name == b.name && !k.bad(at) {
				k.report(at, Problem{Seen: quote(b.name), Fault: "is also " + a.key, Hint: "an interface needs two fluids"})
			}
		}
	}
}

func (k *checker) limb(path string, l, other *Limb) {
	if l == nil {
		return
	}
	k.fluidNamed(join(path, "over"), l.Over)
	k.rising(join(path, "scale_mm"), l.ScaleMM, "mark")
	if !l.Reservoir {
		k.oneOf(path, "slope_deg", "slope_ratio")
		return
	}
	if l.SlopeDeg != nil && *l.SlopeDeg != 90 || l.SlopeRatio != nil && *l.SlopeRatio != 1 {
		k.report(join(path, "reservoir"), Problem{Fault: "contradicts a slope that is not vertical", Hint: "a reservoir stands vertical: leave its slope out"})
	}
	if other != nil && l.BoreMM != nil && other.BoreMM != nil && *l.BoreMM <= *other.BoreMM && !k.bad(join(path, "bore_mm")) {
		k.report(join(path, "bore_mm"), Problem{Seen: withUnit(*l.BoreMM, "mm"), Fault: "is not wider than the bore of the other limb,", Allowed: "above " + withUnit(*other.BoreMM, "mm"), Hint: "(the two swapped?)"})
	}
}

func (k *checker) profile(path string, g *Geometry) {
	at := join(path, "points")
	k.risingColumn(at, g.Points, 0, "distance along the tube")
	k.risingColumn(at, g.Points, 1, "height")
	if k.bad(at) || len(g.Points) < 2 {
		return
	}
	for i := 1; i < len(g.Points); i++ {
		along, up := g.Points[i][0]-g.Points[i-1][0], g.Points[i][1]-g.Points[i-1][1]
		if up > along*(1+1e-9) {
			k.report(at, Problem{Seen: fmt.Sprintf("%s mm up over %s mm along", number(up), number(along)), Fault: "is steeper than vertical", Hint: "each row is [along_mm, height_mm]"})
			return
		}
	}
	ends := [2]float64{g.Points[0][0], g.Points[len(g.Points)-1][0]}
	if g.ScaleMM != nil && !k.bad(join(path, "scale_mm")) && (g.ScaleMM[0] < ends[0] || g.ScaleMM[1] > ends[1]) {
		k.report(join(path, "scale_mm"), Problem{Seen: span(*g.ScaleMM, "mm"), Fault: "reaches beyond the points,", Allowed: span(ends, "mm"), Hint: "no height is known there"})
	}
}

func (k *checker) cistern(path string, g *Geometry) {
	at := func(key string) string { return join(path, key) }
	fixedKeys := []string{"cistern_bore_mm", "neutral_mm", "scale_compensated"}
	stated := slices.DeleteFunc(slices.Clone(fixedKeys), func(key string) bool { return !k.stated(at(key)) })
	switch {
	case g.Cistern == "adjustable" && len(stated) > 0:
		k.report(at(stated[0]), Problem{Fault: "contradicts cistern: adjustable", Hint: "it belongs to a fixed cistern"})
	case g.Cistern == "fixed" || g.Cistern == "" && len(stated) > 0:
		if !g.ScaleCompensated && !k.stated(at("cistern_bore_mm")) {
			k.missing(at("cistern_bore_mm"), "a fixed cistern needs it, unless scale_compensated: true")
		}
		if !g.ScaleCompensated && !k.stated(at("neutral_mm")) {
			k.missing(at("neutral_mm"), "a fixed cistern needs it, unless scale_compensated: true")
		}
	}
}
