package fluid

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"

	"manobridge/convert/quantity"
)

// Table is a liquid known by measured densities at several temperatures.
//
// Between the points it follows a cubic that keeps the data's rises and falls (F. N. Fritsch, J. Butland, A method for
// constructing local monotone piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304); at the
// points it is the measured density. Outside them it refuses: it never holds the last value.
type Table struct {
	name, source string
	cubic        interp.FritschButland
	chord        interp.PiecewiseLinear
	uRho         float64 // relative
	assumed      bool
	within       span
}

// Point is one measured density.
type Point struct {
	Temperature quantity.Temperature
	Density     quantity.Density // 500 to 14000 kg/m³
}

// TableOptions describes a Table.
type TableOptions struct {
	Name     string
	Source   string  // may be empty
	Points   []Point // two or more, temperatures rising
	DensityU Uncertainty
	// DensityU is standard, in kg/m³, common to all points; left out, DefaultDensityU of the density
}

// interpolationU is the standard uncertainty of how far the liquid bends between two points, as a share of how far
// the cubic bends away from the chord: a rectangle that reaches the chord on one side and as far on the other.
var interpolationU = 1 / math.Sqrt(3)

// NewTable makes a Table, or says which point is not one.
func NewTable(o TableOptions) (*Table, error) {
	if len(o.Points) < 2 {
		return nil, fmt.Errorf("table of %s has %d points; allowed: two or more", o.Name, len(o.Points))
	}
	if err := o.DensityU.ok("the density of " + o.Name); err != nil {
		return nil, err
	}
	ts, rhos := make([]float64, len(o.Points)), make([]float64, len(o.Points))
	for i, p := range o.Points {
		ts[i], rhos[i] = float64(p.Temperature), float64(p.Density)
		if t := p.Temperature.Celsius(); !(t >= -150 && t <= 400) {
			return nil, fmt.Errorf("point %d of the table of %s is at %v °C; allowed: -150 to 400 °C", i+1, o.Name, t)
		}
		if !(rhos[i] >= 500 && rhos[i] <= 14000) {
			return nil, fmt.Errorf("point %d of the table of %s is %v kg/m³; allowed: 500 to 14000 kg/m³", i+1, o.Name, rhos[i])
		}
		if i > 0 && !(ts[i]-ts[i-1] >= 1e-3) {
			return nil, fmt.Errorf("point %d of the table of %s, at %s °C, does not follow the one before, at %s °C; "+
				"temperatures must rise", i+1, o.Name, number(p.Temperature.Celsius()), number(o.Points[i-1].Temperature.Celsius()))
		}
	}
	t := &Table{name: o.Name, source: o.Source, within: span{o.Points[0].Temperature, o.Points[len(o.Points)-1].Temperature}}
	if t.source == "" {
		t.source = "as configured"
	}
	if err := t.cubic.Fit(ts, rhos); err != nil {
		return nil, fmt.Errorf("table of %s: %w", o.Name, err)
	}
	if err := t.chord.Fit(ts, rhos); err != nil {
		return nil, fmt.Errorf("table of %s: %w", o.Name, err)
	}
	t.uRho, t.assumed = o.DensityU.or(DefaultDensityU * rhos[0])
	return t, nil
}

// Name implements Fluid.
func (t *Table) Name() string { return t.name }

// Source implements Fluid.
func (t *Table) Source() string { return t.source }

// Range implements Fluid: from the first point to the last.
func (t *Table) Range() (low, high quantity.Temperature) { return t.within.low, t.within.high }

// Inputs implements Fluid. The second is how far the liquid bends away from the cubic between two points, best
// estimate 0, as a share of the distance from the cubic to the chord; it says nothing between two points alone.
func (t *Table) Inputs() []Input {
	return []Input{
		{Name: "offset of the densities", Unit: "kg/m³", U: t.uRho, Assumed: t.assumed},
		{Name: "interpolation between points", Unit: "1", U: interpolationU, Assumed: true},
	}
}

// At implements Fluid.
func (t *Table) At(at quantity.Temperature) (State, error) {
	if !t.within.has(at) {
		return State{}, t.within.refuse(t.name, t.source, at)
	}
	x := float64(at)
	rho := t.cubic.Predict(x)
	s := State{Density: quantity.Density(rho), PerKelvin: t.cubic.PredictDerivative(x)}
	s.Own[0] = t.uRho
	s.Own[1] = (rho - t.chord.Predict(x)) * interpolationU
	return s, nil
}
