package position

import (
	"math"
	"testing"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

func table(t *testing.T, o TableOptions) *Table {
	t.Helper()
	tab, err := NewTable(o)
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

func points(p ...[2]float64) (out []Point) {
	for _, one := range p {
		out = append(out, Point{one[0], quantity.Millimetres(one[1])})
	}
	return out
}

// Worked by hand: 409 counts are 0 mm and 3686 are 300 mm, so 3277 counts are 300 mm; halfway, at 2047.5, are 150 mm. A
// step of one count is 300/3277 = 0.0915471 mm, rectangular 0.0264274 mm; with 0.1 mm at the points, 0.103433 mm.
func TestStraightLineByHand(t *testing.T) {
	tab := table(t, TableOptions{Points: points([2]float64{409, 0}, [2]float64{3686, 300}), U: quantity.Millimetres(0.1), Step: 1, Unit: "counts"})
	at, extra, _, refusal := tab.Position("low-limb", 2047.5, nil)
	if refusal != nil || math.Abs(at.Millimetres()-150) > 1e-9 {
		t.Errorf("got %v mm, %v, want 150 mm ± 1e-9", at.Millimetres(), refusal)
	}
	if got := extra.U.Millimetres(); math.Abs(got-0.103433) > 1e-6 {
		t.Errorf("got u %v mm, want 0.103433 mm ± 1e-6", got)
	}
	for signal, want := range map[float64]float64{409: 0, 3686: 300} {
		if at, _, _, refusal := tab.Position("low-limb", signal, nil); refusal != nil || math.Abs(at.Millimetres()-want) > 1e-9 {
			t.Errorf("at %v counts: got %v mm, %v, want %v mm", signal, at.Millimetres(), refusal, want)
		}
	}
	if got := tab.Typical(); got != extra {
		t.Errorf("got %v typical, want %v", got, extra)
	}
}

// Worked by hand: from 0.5 V at 400 mm to 2 V at 250 mm are −100 mm/V, from there to 4.5 V at 0 mm also −100 mm/V; to 5 V
// at −100 mm are −200 mm/V. So 1.25 V are 325 mm, 2.5 V 200 mm, 4.75 V −50 mm.
func TestTableByHand(t *testing.T) {
	tab := table(t, TableOptions{Points: points([2]float64{0.5, 400}, [2]float64{2, 250}, [2]float64{4.5, 0}, [2]float64{5, -100}), Unit: "V"})
	for signal, want := range map[float64]float64{0.5: 400, 1.25: 325, 2: 250, 2.5: 200, 4.5: 0, 4.75: -50, 5: -100} {
		if at, _, _, refusal := tab.Position("high-limb", signal, nil); refusal != nil || math.Abs(at.Millimetres()-want) > 1e-9 {
			t.Errorf("at %v V: got %v mm, %v, want %v mm ± 1e-9", signal, at.Millimetres(), refusal, want)
		}
	}
}

// Outside its points a signal is refused, never clamped; within beyond_mm the line of the end holds and the uncertainty
// grows with the lever: a tenth past the span, u·(1.1 + 0.1).
func TestOutsideThePoints(t *testing.T) {
	o := TableOptions{Points: points([2]float64{100, 10}, [2]float64{200, 110}), U: quantity.Millimetres(0.2), Unit: "counts"}
	tab := table(t, o)
	for _, signal := range []float64{99.999, 200.001, -1e9, 1e9} {
		if _, _, _, refusal := tab.Position("low-limb", signal, nil); refusal == nil || refusal.Code != convert.SignalOffPoints {
			t.Errorf("at %v counts: got %v, want %v", signal, refusal, convert.SignalOffPoints)
		}
	}
	o.Beyond = quantity.Millimetres(10.0001)
	tab = table(t, o)
	at, extra, _, refusal := tab.Position("low-limb", 210, nil)
	if refusal != nil || math.Abs(at.Millimetres()-120) > 1e-9 || math.Abs(extra.U.Millimetres()-0.24) > 1e-9 {
		t.Errorf("got %v mm with u %v mm, %v, want 120 mm with 0.24 mm", at.Millimetres(), extra.U.Millimetres(), refusal)
	}
	if _, _, _, refusal = tab.Position("low-limb", 211, nil); refusal == nil {
		t.Errorf("11 mm past the points were taken, with 10 mm allowed")
	}
}

// The bands of a 4 to 20 mA loop. Source: NAMUR NE 43, from memory: under 3.6 and over 21 mA a fault, 3.8 to 20.5 mA the
// measured value and its overrange.
func TestLoopBands(t *testing.T) {
	o := TableOptions{Points: points([2]float64{4, 0}, [2]float64{20, 800}), Unit: "mA", Loop: true}
	beyond := o
	beyond.Beyond = quantity.Millimetres(50)
	for _, c := range []struct {
		ma       float64
		strict   convert.Cause
		overlong convert.Cause // with 50 mm, 1 mA, beyond the points
	}{
		{3.59, convert.LoopFault, convert.LoopFault}, {3.6, convert.SignalOffPoints, convert.SignalOffPoints},
		{3.79, convert.SignalOffPoints, convert.SignalOffPoints}, {3.81, convert.SignalOffPoints, ""}, {3.999, convert.SignalOffPoints, ""},
		{4, "", ""}, {12, "", ""}, {20, "", ""}, {20.01, convert.SignalOffPoints, ""}, {20.5, convert.SignalOffPoints, ""},
		{20.51, convert.SignalOffPoints, convert.SignalOffPoints}, {21, convert.SignalOffPoints, convert.SignalOffPoints},
		{21.01, convert.LoopFault, convert.LoopFault}, {0, convert.LoopFault, convert.LoopFault},
	} {
		for which, want := range map[*TableOptions]convert.Cause{&o: c.strict, &beyond: c.overlong} {
			at, _, _, refusal := table(t, *which).Position("low-limb", c.ma, nil)
			got := convert.Cause("")
			if refusal != nil {
				got = refusal.Code
			} else if mm := (c.ma - 4) * 50; math.Abs(at.Millimetres()-mm) > 1e-9 { // 800 mm over 16 mA
				t.Errorf("at %v mA: got %v mm, want %v mm", c.ma, at.Millimetres(), mm)
			}
			if got != want {
				t.Errorf("at %v mA, beyond %v mm: got %q, want %q", c.ma, which.Beyond.Millimetres(), got, want)
			}
		}
	}
}

func TestPointsThatGoNoWayAreRefused(t *testing.T) {
	for name, p := range map[string][]Point{
		"one":               points([2]float64{1, 1}),
		"none":              nil,
		"same signal":       points([2]float64{1, 1}, [2]float64{1, 2}),
		"falling signal":    points([2]float64{2, 1}, [2]float64{1, 2}),
		"same position":     points([2]float64{1, 1}, [2]float64{2, 1}),
		"turns":             points([2]float64{1, 1}, [2]float64{2, 3}, [2]float64{3, 2}),
		"turns the other":   points([2]float64{1, 3}, [2]float64{2, 1}, [2]float64{3, 2}),
		"not a number":      points([2]float64{math.NaN(), 3}, [2]float64{2, 1}),
		"nowhere":           points([2]float64{1, 3}, [2]float64{2, math.NaN()}),
		"stands at the end": points([2]float64{1, 1}, [2]float64{2, 3}, [2]float64{3, 3}),
	} {
		if _, err := NewTable(TableOptions{Points: p}); err == nil {
			t.Errorf("%s: points %v were taken", name, p)
		}
	}
}

// Reference height less distance: 640 mm less 212.5 mm are 427.5 mm, by hand. A step of 1 mm is 0.288675 mm, with 0.3 mm
// 0.416333 mm.
func TestDistanceFromAbove(t *testing.T) {
	d, err := NewDistance(DistanceOptions{Reference: quantity.Millimetres(640), Blanking: quantity.Millimetres(60), Farthest: quantity.Millimetres(600),
		U: quantity.Millimetres(0.3), Step: quantity.Millimetres(1)})
	if err != nil {
		t.Fatal(err)
	}
	at, extra, _, refusal := d.Position("low-limb", 212.5, nil)
	if refusal != nil || math.Abs(at.Millimetres()-427.5) > 1e-9 || math.Abs(extra.U.Millimetres()-0.416333) > 1e-6 {
		t.Errorf("got %v mm with u %v mm, %v, want 427.5 mm with 0.416333 mm", at.Millimetres(), extra.U.Millimetres(), refusal)
	}
	for mm, want := range map[float64]convert.Cause{59.9: convert.EchoTooNear, -1: convert.EchoTooNear, 600.1: convert.SignalOffPoints} {
		if _, _, _, refusal := d.Position("low-limb", mm, nil); refusal == nil || refusal.Code != want {
			t.Errorf("at %v mm: got %v, want %v", mm, refusal, want)
		}
	}
	for _, mm := range []float64{60, 600} {
		if _, _, _, refusal := d.Position("low-limb", mm, nil); refusal != nil {
			t.Errorf("at %v mm: got %v, want a position", mm, refusal)
		}
	}
	if _, err := NewDistance(DistanceOptions{Blanking: 2, Farthest: 1}); err == nil {
		t.Error("a range that ends before it begins was taken")
	}
}
