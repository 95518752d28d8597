package configs

import (
	"fmt"
	"slices"
	"strings"
)

// usable lists the positions a kind can make use of, and zeroNeeded tells whether it cannot do without a zero reading.
func usable(g *Geometry) (positions []string, zeroNeeded bool) {
	switch g.Kind {
	case InclinedReservoir, Profile:
		return []string{"low_mm"}, true
	case Graduated:
		return []string{"reading"}, true
	case Sealed:
		if hasCistern(g) {
			return []string{"low_mm"}, false
		}
		return []string{"high_mm", "low_mm"}, false
	case LimbPair:
		return []string{"high_mm", "low_mm"}, false
	}
	return []string{"high_mm", "low_mm"}, true
}

// oneWillDo tells whether a kind that can use two positions can do with one.
func oneWillDo(kind string) bool { return kind == UTube || kind == LimbPair }

func hasCistern(g *Geometry) bool {
	return g.Cistern != "" || g.CisternBoreMM != nil || g.NeutralMM != nil || g.ScaleCompensated
}

// positions holds what the frames deliver, the zero and the tie against what the kind needs.
func (k *checker) positions(path string, in *Instrument, port *Port) {
	g := &in.Geometry
	all, zeroNeeded := usable(g)
	got := all
	if port != nil {
		if k.unclear(port) || k.touched(join(path, "signal")) || k.touched(join(path, "ask")) {
			return
		}
		got = slices.DeleteFunc(slices.Clone(all), func(p string) bool { return !in.Delivers(port, p) })
		if len(got) == 0 || len(got) < len(all) && !oneWillDo(g.Kind) {
			missing := slices.DeleteFunc(slices.Clone(all), func(p string) bool { return slices.Contains(got, p) })
			k.report(join(path, "port"), Problem{Seen: quote(port.Name), Fault: fmt.Sprintf("has no %s in its frames, which kind %s needs", strings.Join(missing, " and no "), g.Kind),
				Hint: fmt.Sprintf("its frames carry %s", strings.Join(port.Carried(), ", "))})
			return
		}
	}
	k.zero(path, in, all, got, port == nil, zeroNeeded)
	k.tie(path, in, got, port == nil)
}

func (k *checker) zero(path string, in *Instrument, all, got []string, offline, needed bool) {
	at := join(path, "zero")
	z := in.Zero
	if z == nil {
		if needed && !k.stated(at) {
			example := make([]string, len(got))
			for i, p := range got {
				example[i] = p + ": ..."
			}
			k.missing(at, fmt.Sprintf("join both ports to the same place, wait, and write zero: {%s, temperature_c: ...}", strings.Join(example, ", ")))
		}
		return
	}
	values := map[string]*float64{"high_mm": z.HighMM, "low_mm": z.LowMM, "reading": z.Reading}
	have := 0
	for _, p := range []string{"high_mm", "low_mm", "reading"} {
		key := join(at, p)
		v := values[p]
		switch {
		case v != nil && !slices.Contains(all, p):
			k.report(key, Problem{Fault: "is not used by kind " + in.Geometry.Kind, Hint: "it uses " + strings.Join(all, " and ")})
		case v != nil:
			have++
			k.onScale(key, *v, in, p)
		case slices.Contains(got, p) && !offline && !k.stated(key):
			k.missing(key, "the frames carry this position, so its zero is needed too")
		case slices.Contains(all, p) && !oneWillDo(in.Geometry.Kind) && !k.stated(key):
			k.missing(key, "kind "+in.Geometry.Kind+" needs it")
		}
	}
	if have == 0 && oneWillDo(in.Geometry.Kind) && offline && !k.bad(join(at, "high_mm")) && !k.bad(join(at, "low_mm")) {
		k.missing(join(at, "low_mm"), "a zero has at least one position")
	}
}

func (k *checker) tie(path string, in *Instrument, got []string, offline bool) {
	at := join(path, "tie")
	if in.Tie == nil {
		zeroHasBoth := in.Zero != nil && in.Zero.HighMM != nil && in.Zero.LowMM != nil
		if in.Geometry.Kind == LimbPair && len(got) == 1 && !offline && !zeroHasBoth && !k.stated(at) && !k.bad(join(path, "zero")) {
			k.missing(at, fmt.Sprintf("the frames carry %s alone, and a pair seen together is needed to know where the other limb stands", got[0]))
		}
		return
	}
	if in.Geometry.Kind != LimbPair {
		k.report(at, Problem{Fault: "is not used by kind " + in.Geometry.Kind, Hint: "it belongs to limb-pair"})
		return
	}
	if in.Tie.HighMM != nil {
		k.onScale(join(at, "high_mm"), *in.Tie.HighMM, in, "high_mm")
	}
	if in.Tie.LowMM != nil {
		k.onScale(join(at, "low_mm"), *in.Tie.LowMM, in, "low_mm")
	}
}

// onScale reports a position beyond the scale it was read on.
func (k *checker) onScale(path string, v float64, in *Instrument, position string) {
	g := &in.Geometry
	scale, unit := g.ScaleMM, "mm"
	switch {
	case g.Kind == Graduated:
		scale, unit = g.Scale, g.Unit
	case g.Kind == LimbPair && position == "high_mm" && g.High != nil:
		scale = g.High.ScaleMM
	case g.Kind == LimbPair && position == "low_mm" && g.Low != nil:
		scale = g.Low.ScaleMM
	}
	if scale == nil || scale[0] >= scale[1] || k.bad(path) || v >= scale[0] && v <= scale[1] {
		return
	}
	k.report(path, Problem{Seen: withUnit(v, unit), Fault: "is off the scale,", Allowed: span(*scale, unit)})
}
