package configs

import (
	"fmt"
	"slices"
	"strings"
)

// Signal says how positions are worked out where a digitizer sends something else than a position in mm.
type Signal struct {
	// High is the signal of the high limb: high_counts, high_v, high_ma, high_distance_mm or high_px of the frames.
	High *LimbSignal `yaml:"high"`
	// Low is the signal of the low limb: low_counts, low_v, low_ma, low_distance_mm or low_px of the frames.
	Low *LimbSignal `yaml:"low"`
}

// LimbSignal is the signal of one limb. What it adds to the uncertainty of a position comes beside that stated under
// uncertainty, which is then that of reading the scale alone.
type LimbSignal struct {
	// Unit is what the digitizer sends: counts, v or ma along calibrated points, ma being a loop of 4 to 20 mA; distance_mm
	// from a sensor above the liquid; px, the row of the meniscus in an image that also shows fiducial marks.
	Unit string `yaml:"unit" enum:"counts|v|ma|distance_mm|px" needed:"true"`

	// Points are pairs of a signal and the position in mm that it was seen at, the signal rising and the position going one
	// way. Straight lines join them. Outside them a reading is refused.
	Points [][2]float64 `yaml:"points" only:"counts,v,ma" range:"[-1e9,1e9];[-10000,10000]" unit:" ;mm" min:"2" max:"64"`
	// UMM is the standard uncertainty in mm of the position of a point, with how far the truth may be off the straight line
	// between two; for distance_mm, that of the reference and the sensor together.
	UMM *float64 `yaml:"u_mm" only:"counts,v,ma,distance_mm" range:"[0,1000]"`
	// Step is the smallest change that the digitizer can show, in the unit of the signal. Left out: it does not matter.
	Step *float64 `yaml:"step" only:"counts,v,ma,distance_mm" range:"[0,1e6]"`
	// BeyondMM is how far in mm past the first and the last point, or past the outermost fiducial marks seen, a reading is
	// still taken. Left out: no further. Of a loop never past the live bands, 3.8 to 20.5 mA.
	BeyondMM *float64 `yaml:"beyond_mm" only:"counts,v,ma,px" range:"[0,1000]"`

	// ReferenceMM is the position along the scale, in mm, that is level with the face of the sensor.
	ReferenceMM *float64 `yaml:"reference_mm" only:"distance_mm" range:"[-10000,10000]"`
	// BlankingMM is the distance in mm nearer than which the sensor measures nothing.
	BlankingMM *float64 `yaml:"blanking_mm" only:"distance_mm" range:"[0,10000]"`
	// FarthestMM is the longest distance in mm that the sensor measures.
	FarthestMM *float64 `yaml:"farthest_mm" only:"distance_mm" range:"(0,20000]"`

	// FiducialsMM are the positions of two to four fiducial marks along the scale, in mm, that of fiducial_1_px first. Two
	// correct a camera that is shifted or zoomed, three also one that looks askew, and a fourth checks the others.
	FiducialsMM []float64 `yaml:"fiducials_mm" only:"px" range:"[-10000,10000]" min:"2" max:"4"`
	// FiducialUMM is the standard uncertainty in mm of the position of a mark.
	FiducialUMM *float64 `yaml:"fiducial_u_mm" only:"px" range:"(0,100]"`
	// FiducialUPx is the standard uncertainty in px of the row of a mark.
	FiducialUPx *float64 `yaml:"fiducial_u_px" only:"px" range:"[0,1000]"`
	// RowUPx is the standard uncertainty in px of the row of the meniscus.
	RowUPx *float64 `yaml:"row_u_px" only:"px" range:"[0,1000]"`
	// MinScore is the score of an edge under which the image is refused. Left out: the score is not looked at.
	MinScore *float64 `yaml:"min_score" only:"px" range:"[-1e9,1e9]"`
	// Edge is the edge of the meniscus that the camera finds. Where it is not the one that meniscus of the instrument names,
	// meniscus_offset_mm is needed.
	Edge string `yaml:"edge" only:"px" enum:"bottom|crown"`
	// MeniscusOffsetMM is what is added to the position in mm, from the edge found to the one that meniscus names, along
	// the scale: positive where the one named stands higher.
	MeniscusOffsetMM *float64 `yaml:"meniscus_offset_mm" only:"px" range:"[-50,50]"`
	// MeniscusOffsetUMM is its standard uncertainty in mm.
	MeniscusOffsetUMM *float64 `yaml:"meniscus_offset_u_mm" only:"px" range:"[0,50]"`
}

// Limb gives the signal of a limb by the name of its position, high_mm or low_mm; nil where it has none.
func (s *Signal) Limb(position string) *LimbSignal {
	switch {
	case s == nil:
		return nil
	case position == "high_mm":
		return s.High
	case position == "low_mm":
		return s.Low
	}
	return nil
}

// Delivers tells whether the frames of a port bring a position of the instrument, as it is or as a signal.
func (i *Instrument) Delivers(p *Port, position string) bool {
	if s := i.Signal.Limb(position); s != nil {
		return p.Has(s.field(position))
	}
	return p.Has(position)
}

// Fields lists the fields that the signals of the instrument come in, those of the image included.
func (s *Signal) Fields() (out []string) {
	for _, position := range []string{"high_mm", "low_mm"} {
		l := s.Limb(position)
		if l == nil {
			continue
		}
		out = append(out, l.field(position))
		for i := range l.FiducialsMM {
			out = append(out, fmt.Sprintf("fiducial_%d_px", i+1))
		}
		if l.Unit == "px" {
			out = append(out, "score", "edges", "frame_counter")
		}
	}
	return out
}

// field is the name of the field that holds the signal.
func (s *LimbSignal) field(position string) string {
	return strings.TrimSuffix(position, "mm") + s.Unit
}

// signalFields are the fields that hold the signal of a limb, by the name of its position.
func signalFields(position string) (out []string) {
	for _, unit := range blockFields[LimbSignal]()[0].words("enum", "|") {
		out = append(out, strings.TrimSuffix(position, "mm")+unit)
	}
	return out
}

// hasPosition tells whether the fields say where a meniscus is.
func hasPosition(fields []string) bool {
	for _, position := range []string{"high_mm", "low_mm"} {
		for _, f := range append(signalFields(position), position, "reading") {
			if slices.Contains(fields, f) {
				return true
			}
		}
	}
	return false
}
