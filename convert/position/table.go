package position

import (
	"fmt"
	"math"
	"sort"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// The bands of a 4 to 20 mA loop in mA: a transmitter says that it failed under loopLow and over loopHigh, and a current
// between loopFrom and loopTo carries a measured value. Source: NAMUR NE 43, from memory.
const (
	loopLow, loopFrom, loopTo, loopHigh = 3.6, 3.8, 20.5, 21.0
)

// TableOptions describes a calibration of a signal that rises or falls with the position.
type TableOptions struct {
	// Points are pairs of a signal and the position that was seen with it, in the order of the signal, at least two. Both
	// must be strictly monotone.
	Points []Point
	// U is the standard uncertainty of the position of each point. What lies between two points is held to be on the line
	// that joins them; how far it may be off that line belongs in here.
	U quantity.Length
	// Step is the smallest change of the signal that the digitizer can show, in the unit of the signal; 0 where it does
	// not matter.
	Step float64
	// Beyond is how far past the first and the last point the end lines still hold..
	Beyond quantity.Length
	Unit   string // of the signal, for refusals; may be empty
	// Loop says that the signal is the current of a 4 to 20 mA loop in mA, with its bands of fault.
	Loop bool
}

// Point is one signal and the position that was seen with it.
type Point struct {
	Signal float64
	At     quantity.Length
}

// Table works positions out by straight lines between calibrated points. It is safe for concurrent use.
type Table struct {
	o       TableOptions
	falling bool // the position falls where the signal rises
}

// NewTable checks the points.
func NewTable(o TableOptions) (*Table, error) {
	if len(o.Points) < 2 {
		return nil, fmt.Errorf("%d points of the signal; at least two are needed", len(o.Points))
	}
	if !(o.U >= 0) || !(o.Step >= 0) || !(o.Beyond >= 0) || math.IsInf(float64(o.U)+o.Step+float64(o.Beyond), 0) {
		return nil, fmt.Errorf("uncertainty %v m, step %v, beyond %v m: each is 0 or more", float64(o.U), o.Step, float64(o.Beyond))
	}
	o.Points = append([]Point(nil), o.Points...)
	t := &Table{o: o, falling: o.Points[1].At < o.Points[0].At}
	for i := 1; i < len(o.Points); i++ {
		a, b := o.Points[i-1], o.Points[i]
		if !(b.Signal > a.Signal) || t.falling != (b.At < a.At) || !(math.Abs(float64(b.At-a.At)) > 0) || math.IsInf(b.Signal-a.Signal+float64(b.At-a.At), 0) {
			return nil, fmt.Errorf("points %d and %d: the signal must rise from point to point, and the position must go one way", i, i+1)
		}
	}
	return t, nil
}

// Position implements Limb.
func (t *Table) Position(name string, signal float64, _ *convert.Camera) (at quantity.Length, extra convert.Extra, note, refusal *convert.Refusal) {
	if refusal = t.fault(name, signal); refusal != nil {
		return 0, convert.Extra{}, nil, refusal
	}
	p := t.o.Points
	i := min(max(sort.Search(len(p), func(i int) bool { return p[i].Signal >= signal }), 1), len(p)-1)
	a, b := p[i-1], p[i]
	slope := float64(b.At-a.At) / (b.Signal - a.Signal)
	w := (signal - a.Signal) / (b.Signal - a.Signal)
	at = a.At + quantity.Length(w*float64(b.At-a.At))
	first, last := p[0], p[len(p)-1]
	// How far past an end point, as a length.
	past := quantity.Length(math.Abs(slope) * max(first.Signal-signal, signal-last.Signal, 0))
	if past > t.o.Beyond || t.o.Loop && (signal < loopFrom || signal > loopTo) {
		return 0, convert.Extra{}, nil, &convert.Refusal{Code: convert.SignalOffPoints, Field: name + " signal", Seen: text(signal, t.o.Unit),
			Allowed: t.allowed(), Check: "the column, the sensor, and the points of its signal"}
	}
	// The points were read against one scale with one sensor, so their errors are taken to go together: between them the
	// uncertainty is that of a point, past them that of the lever. A step is rectangular, one wide.
	// Source: JCGM 100:2008, 5.2.2 note 1 and F.2.2.1.
	u := math.Hypot(float64(t.o.U)*(math.Abs(w)+math.Abs(1-w)), slope*t.o.Step/math.Sqrt(12))
	return at, convert.Extra{U: quantity.Length(u)}, nil, nil
}

// fault refuses a current by which a transmitter says that it failed.
func (t *Table) fault(name string, signal float64) *convert.Refusal {
	if !t.o.Loop || signal >= loopLow && signal <= loopHigh {
		return nil
	}
	check := "the transmitter: so high a current is its word for a fault, or a short circuit"
	if signal < loopLow {
		check = "the transmitter and its wires: so low a current is its word for a fault, or a broken wire"
	}
	return &convert.Refusal{Code: convert.LoopFault, Field: name + " loop current", Seen: text(signal, "mA"),
		Allowed: span(loopLow, loopHigh, "mA"), Check: check}
}

func (t *Table) allowed() string {
	p := t.o.Points
	first, last := p[0], p[len(p)-1]
	s := span(first.Signal, last.Signal, t.o.Unit) + ", the calibrated points"
	if t.o.Beyond > 0 {
		s += ", and " + text(t.o.Beyond.Millimetres(), "mm") + " beyond"
	}
	return s
}

// Typical implements Limb: that at the steepest of the lines.
func (t *Table) Typical() convert.Extra {
	steepest := 0.0
	for i := 1; i < len(t.o.Points); i++ {
		a, b := t.o.Points[i-1], t.o.Points[i]
		steepest = max(steepest, math.Abs(float64(b.At-a.At)/(b.Signal-a.Signal)))
	}
	return convert.Extra{U: quantity.Length(math.Hypot(float64(t.o.U), steepest*t.o.Step/math.Sqrt(12)))}
}
