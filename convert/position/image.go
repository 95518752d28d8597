package position

import (
	"fmt"
	"math"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// ImageOptions describes a camera that reports the row of a meniscus and, in the same image, the rows of fiducial marks
// whose positions along the scale are known.
type ImageOptions struct {
	// Fiducials are the positions of the marks, fiducial 1 first. With two the map from rows to positions is a shift and a
	// zoom; with three or more it also follows a camera that looks askew, and with four one mark checks the others.
	Fiducials []quantity.Length
	FiducialU quantity.Length // standard uncertainty of each of those positions
	MarkRowU  float64         // standard uncertainty of the row of a mark, px
	RowU      float64         // that of the row of the meniscus, px
	// Beyond is how far past the outermost marks seen the map still holds.
	Beyond quantity.Length
	// MinScore is the score of an edge under which it is not believed; not set where the camera sends none.
	MinScore convert.Optional[float64]
	// Offset is added to the position, with its standard uncertainty: from the edge that the camera finds to the one that
	// the scale is read by.
	Offset, OffsetU quantity.Length
}

// mostDisagree is by how many standard uncertainties a mark may stand off the map of the others; by chance one image in
// 16 000 does. steepest is how much closer together rows may be at one end than at the other: 2 is a camera at half the
// distance from one end. Both are our choice.
const (
	mostDisagree = 4.0
	steepest     = 2.0
)

// Image works positions out from rows. Each image is its own calibration: a camera that was moved since, or zoomed,
// changes nothing. It is safe for concurrent use.
type Image struct {
	o    ImageOptions
	need int // marks
}

// NewImage checks the description.
func NewImage(o ImageOptions) (*Image, error) {
	if n := len(o.Fiducials); n < 2 || n > convert.MaxFiducials {
		return nil, fmt.Errorf("%d fiducial marks; 2 to %d are possible", n, convert.MaxFiducials)
	}
	for i, a := range o.Fiducials {
		for _, b := range o.Fiducials[:i] {
			if a == b {
				return nil, fmt.Errorf("two fiducial marks stand at %g mm", a.Millimetres())
			}
		}
	}
	for _, v := range []float64{float64(o.FiducialU), o.MarkRowU, o.RowU, float64(o.Beyond), float64(o.OffsetU)} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("an uncertainty or a length beyond the marks is %v; each is 0 or more", v)
		}
	}
	if o.FiducialU == 0 && o.MarkRowU == 0 {
		return nil, fmt.Errorf("marks without any uncertainty cannot be weighed against one another")
	}
	o.Fiducials = append([]quantity.Length(nil), o.Fiducials...)
	return &Image{o: o, need: min(len(o.Fiducials), 3)}, nil
}

// Position implements Limb. The signal is a row in px.
func (m *Image) Position(name string, row float64, camera *convert.Camera) (at quantity.Length, extra convert.Extra, note, refusal *convert.Refusal) {
	if refusal = m.edge(name, camera); refusal != nil {
		return 0, extra, nil, refusal
	}
	f := fit{terms: m.need, markU: float64(m.o.FiducialU), rowU: m.o.MarkRowU}
	lost := 0
	for i, x := range m.o.Fiducials {
		// A row under 0 is in no image; modules send one, or 0, for a mark they do not find. Common practice, no source. A true
		// mark right on the first row is told from none by nothing, and half of it is outside the image.
		if r := camera.Fiducials[i]; r.Set && r.V > 0 && !math.IsInf(r.V, 0) {
			f.rows[f.n], f.marks[f.n] = r.V, float64(x)
			f.n++
			continue
		}
		lost = i + 1
	}
	if f.n < m.need {
		return 0, extra, nil, &convert.Refusal{Code: convert.FiducialsFew, Field: name + " image", Seen: fmt.Sprintf("shows %d of %d fiducial marks", f.n, len(m.o.Fiducials)),
			Allowed: fmt.Sprintf("%d or more", m.need), Check: "dirt, glare and what stands before the marks, and the aim of the camera"}
	}
	if !f.solve() {
		return 0, extra, nil, m.disagree(name, "do not stand in their order along the scale, or look too askew")
	}
	if worst, by := f.worst(); by > mostDisagree {
		return 0, extra, nil, m.disagree(name, fmt.Sprintf("disagree: one stands %s off the map of all, %s times its uncertainty",
			text(worst*1000, "mm"), text(by, "")))
	}
	x, perRow, variance := f.at(row)
	lowest, highest := f.span()
	// A meniscus right at a mark comes back with its rounding; a nanometre is not past it.
	if beyond := float64(m.o.Beyond) + 1e-9; !(x >= lowest-beyond && x <= highest+beyond) {
		return 0, extra, nil, &convert.Refusal{Code: convert.SignalOffPoints, Field: name + " row", Seen: text(row, "px") + ", which is " + text(x*1000, "mm"),
			Allowed: span((lowest-beyond)*1000, (highest+beyond)*1000, "mm") + " by the fiducial marks seen", Check: "the column, and the aim of the camera"}
	}
	if lost > 0 {
		note = &convert.Refusal{Code: convert.FiducialLost, Field: name + " image", Seen: fmt.Sprintf("fiducial mark %d is lost; the other %d still do", lost, f.n),
			Check: "dirt, glare and what stands before the mark"}
	}
	u := math.Sqrt(variance + perRow*perRow*m.o.RowU*m.o.RowU + float64(m.o.OffsetU*m.o.OffsetU))
	return quantity.Length(x) + m.o.Offset, convert.Extra{U: quantity.Length(u)}, note, nil
}

func (m *Image) disagree(name, how string) *convert.Refusal {
	return &convert.Refusal{Code: convert.FiducialsDisagree, Field: name + " image", Seen: "fiducial marks " + how,
		Allowed: fmt.Sprintf("%g times the uncertainty stated", mostDisagree), Check: "which mark is which, that none was moved, and reflections"}
}

// edge refuses an image by what the module says of the edge it found.
func (m *Image) edge(name string, camera *convert.Camera) *convert.Refusal {
	switch {
	case camera == nil:
		return &convert.Refusal{Code: convert.FiducialsFew, Field: name + " image", Seen: "came without fiducial marks",
			Allowed: fmt.Sprintf("%d or more", m.need), Check: "the fields of the camera's frame"}
	case camera.Edges.Set && camera.Edges.V != 1:
		return &convert.Refusal{Code: convert.EdgesNotOne, Field: name + " image", Seen: "shows " + text(camera.Edges.V, "") + " edges", Allowed: "1",
			Check: "bubbles, droplets above the meniscus, and reflections"}
	case m.o.MinScore.Set && !camera.Score.Set:
		return &convert.Refusal{Code: convert.ScoreLow, Field: name + " edge score", Seen: "was not received", Allowed: text(m.o.MinScore.V, "") + " or more",
			Check: "the fields of the camera's frame"}
	case m.o.MinScore.Set && !(camera.Score.V >= m.o.MinScore.V):
		return &convert.Refusal{Code: convert.ScoreLow, Field: name + " edge score", Seen: text(camera.Score.V, ""), Allowed: text(m.o.MinScore.V, "") + " or more",
			Check: "light, focus, dirt, and the meniscus itself"}
	}
	return nil
}

// Typical implements Limb: the marks over 1000 rows, the meniscus halfway. A budget has no image to go by.
func (m *Image) Typical() convert.Extra {
	lowest, highest := m.o.Fiducials[0], m.o.Fiducials[0]
	for _, x := range m.o.Fiducials {
		lowest, highest = min(lowest, x), max(highest, x)
	}
	f := fit{terms: m.need, markU: float64(m.o.FiducialU), rowU: m.o.MarkRowU}
	for _, x := range m.o.Fiducials {
		f.marks[f.n], f.rows[f.n] = float64(x), typicalRows*float64((highest-x)/(highest-lowest))
		f.n++
	}
	if !f.solve() {
		return convert.Extra{}
	}
	_, perRow, variance := f.at(typicalRows / 2)
	return convert.Extra{U: quantity.Length(math.Sqrt(variance + perRow*perRow*m.o.RowU*m.o.RowU + float64(m.o.OffsetU*m.o.OffsetU)))}
}

// typicalRows is how many rows a budget takes to lie between the outermost marks: most of an image of a million pixels.
const typicalRows = 1000.0
