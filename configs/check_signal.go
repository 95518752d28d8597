package configs

import (
	"fmt"
	"slices"
	"strings"
)

// signal holds the working out of positions against what the kind reads and what the frames carry.
func (k *checker) signal(path string, in *Instrument, port *Port) {
	if in.Signal == nil {
		return
	}
	used, _ := usable(&in.Geometry)
	for _, position := range []string{"high_mm", "low_mm"} {
		s := in.Signal.Limb(position)
		at := join(path, "signal."+strings.TrimSuffix(position, "_mm"))
		if s == nil || k.bad(at) || k.bad(join(at, "unit")) {
			continue
		}
		if !slices.Contains(used, position) {
			k.report(at, Problem{Fault: "is not used by kind " + in.Geometry.Kind, Hint: "it uses " + strings.Join(used, " and ")})
			continue
		}
		k.only(at, blockFields[LimbSignal](), "unit", s.Unit)
		k.needs(at, s)
		k.goesOneWay(join(at, "points"), s.Points)
		k.fiducials(at, s)
		k.edge(path, at, in, s)
		if port != nil && !k.unclear(port) {
			k.carries(at, position, s, port)
		}
	}
	if in.Signal.High == nil && in.Signal.Low == nil && !k.touched(join(path, "signal")) {
		k.report(join(path, "signal"), Problem{Fault: "names no limb", Hint: "high, low or both are needed"})
	}
}

// needs demands the keys that a unit cannot do without.
func (k *checker) needs(at string, s *LimbSignal) {
	var keys []string
	switch s.Unit {
	case "distance_mm":
		keys = []string{"reference_mm", "blanking_mm", "farthest_mm", "u_mm"}
	case "px":
		keys = []string{"fiducials_mm", "fiducial_u_mm", "fiducial_u_px", "row_u_px"}
	default:
		keys = []string{"points", "u_mm"}
	}
	for _, key := range keys {
		if !k.stated(join(at, key)) {
			k.missing(join(at, key), "unit "+s.Unit+" needs it")
		}
	}
	if b, f := s.BlankingMM, s.FarthestMM; b != nil && f != nil && *b >= *f && !k.bad(join(at, "farthest_mm")) {
		k.report(join(at, "farthest_mm"), Problem{Seen: withUnit(*f, "mm"), Fault: "is not beyond blanking_mm,", Allowed: "above " + withUnit(*b, "mm")})
	}
}

// goesOneWay wants rising signals and positions that only rise or only fall.
func (k *checker) goesOneWay(at string, points [][2]float64) {
	k.risingColumn(at, points, 0, "signal")
	for i := 1; i < len(points) && !k.bad(at); i++ {
		if d := points[i][1] - points[i-1][1]; d == 0 || d > 0 != (points[1][1] > points[0][1]) {
			k.report(at, Problem{Seen: fmt.Sprintf("%s after %s", withUnit(points[i][1], "mm"), withUnit(points[i-1][1], "mm")), Fault: "turns back or stands still",
				Hint: "with a rising signal the position only rises or only falls"})
		}
	}
}

// fiducials wants each mark in a place of its own.
func (k *checker) fiducials(at string, s *LimbSignal) {
	key := join(at, "fiducials_mm")
	for i, v := range s.FiducialsMM {
		if slices.Contains(s.FiducialsMM[:i], v) && !k.touched(key) {
			k.report(key, Problem{Seen: withUnit(v, "mm"), Fault: "stands twice", Hint: "each mark has a place of its own"})
		}
	}
	if len(s.FiducialsMM) == 3 || len(s.FiducialsMM) == 2 {
		k.remark(key, fmt.Sprintf("%d fiducial marks do not check one another; four do", len(s.FiducialsMM)))
	}
}

// edge holds the edge that a camera finds against the one that the scale is read by.
func (k *checker) edge(path, at string, in *Instrument, s *LimbSignal) {
	offset, u := join(at, "meniscus_offset_mm"), join(at, "meniscus_offset_u_mm")
	differs := s.Edge != "" && in.Meniscus != "" && s.Edge != in.Meniscus
	switch {
	case s.Unit != "px":
	case s.Edge != "" && in.Meniscus == "" && !k.stated(k.condition(path, "meniscus")):
		k.missing(join(path, "meniscus"), "edge says which edge the camera finds, and meniscus which one the scale is read by")
	case differs && s.MeniscusOffsetMM == nil:
		k.missing(offset, fmt.Sprintf("the camera finds the %s and the scale is read at the %s", s.Edge, in.Meniscus))
	case differs && s.MeniscusOffsetUMM == nil:
		k.missing(u, "no offset is exact unless 0 is written here")
	case !differs && s.MeniscusOffsetMM != nil && !k.bad(offset):
		k.report(offset, Problem{Fault: "has nothing to correct", Hint: "state edge of the camera and meniscus of the instrument, where the two differ"})
	}
}

// carries demands the signal in the frames, and nothing else in its place.
func (k *checker) carries(at, position string, s *LimbSignal, port *Port) {
	unit := join(at, "unit")
	want := []string{s.field(position)}
	if s.Unit == "px" {
		for i := range s.FiducialsMM {
			want = append(want, fmt.Sprintf("fiducial_%d_px", i+1))
		}
		if s.MinScore != nil {
			want = append(want, "score")
		}
	}
	for _, field := range want {
		if !port.Has(field) && !k.bad(unit) {
			k.report(unit, Problem{Seen: quote(s.Unit), Fault: fmt.Sprintf("needs %s, which the frames of port %s do not carry", field, port.Name),
				Hint: "they carry " + strings.Join(port.Carried(), ", ")})
		}
	}
	if port.Has(position) && !k.bad(unit) {
		k.report(unit, Problem{Seen: quote(s.Unit), Fault: "contradicts " + position + ", which the frames of port " + port.Name + " carry too",
			Hint: "name one of the two fields skip, or leave signal out"})
	}
}

// oneSignal refuses two signals of one limb: which of them is worked out would be left open.
func (k *checker) oneSignal(at string, fields []string) {
	for _, position := range []string{"high_mm", "low_mm"} {
		both := slices.DeleteFunc(signalFields(position), func(f string) bool { return !slices.Contains(fields, f) })
		if len(both) > 1 && !k.bad(at) {
			k.report(at, Problem{Seen: quote(both[1]), Fault: "is a second signal of its limb, beside " + both[0], Hint: "leave one of them out"})
		}
	}
}
