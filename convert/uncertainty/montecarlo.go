package uncertainty

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// MinDraws and MaxDraws bound a Monte Carlo run: below, an interval end is noise; above, the values fill the memory
// (8 bytes each).
const (
	MinDraws = 1000
	MaxDraws = 20_000_000
)

// Model computes the result from the inputs, in the order of the distributions. It must not keep x.
type Model func(x []float64) (float64, error)

// Estimate is the outcome of a Monte Carlo run, all in the unit of the result.
type Estimate struct {
	Draws int
	P     float64 // coverage probability of both intervals

	Mean float64
	StdU float64

	Low, High                 float64 // probabilistically symmetric: (1−P)/2 is below Low and as much above High
	ShortestLow, ShortestHigh float64 // the shortest that holds P
}

// Propagate carries independent distributions through a model by Monte Carlo.
//
//	draws  MinDraws to MaxDraws; 10⁴/(1−p) or more for two good digits (2·10⁵ at 95 %), 10⁶ is usual
//	seed   the same seed gives the same estimate, to the last digit
//	p      coverage probability, 0.5 to 0.9999
//
// The run ends at the first draw the model refuses or answers with a number that is not finite, and says which: a model
// that is not defined for inputs as they may well be has no uncertainty. A mean and a standard uncertainty are printed
// whatever the shape of the outcome; a model whose result has no variance shows in an estimate that does not settle.
//
// Source: JCGM 101:2008, 7.2 to 7.7.
func Propagate(model Model, inputs []Distribution, draws int, seed uint64, p float64) (Estimate, error) {
	return PropagateCorrelated(model, inputs, nil, draws, seed, p)
}

// PropagateCorrelated is Propagate for inputs of which some are correlated. Those must be normal: for others a
// correlation coefficient does not fix the joint distribution. Source: JCGM 101:2008, 6.4.8.
func PropagateCorrelated(model Model, inputs []Distribution, pairs []Correlation, draws int, seed uint64, p float64) (Estimate, error) {
	if draws < MinDraws || draws > MaxDraws {
		return Estimate{}, &RangeError{What: "number of draws", Seen: float64(draws), Allowed: fmt.Sprintf("%d to %d", MinDraws, MaxDraws)}
	}
	r, err := newRun(model, inputs, pairs, seed, p)
	if err != nil {
		return Estimate{}, err
	}
	values := make([]float64, draws)
	if err := r.fill(values); err != nil {
		return Estimate{}, err
	}
	return summarize(values, p), nil
}

// run is a Monte Carlo calculation under way.
type run struct {
	model Model
	draw  func(x []float64)
	x     []float64
	done  int
}

func newRun(model Model, inputs []Distribution, pairs []Correlation, seed uint64, p float64) (*run, error) {
	if !(p >= 0.5 && p <= 0.9999) {
		return nil, &RangeError{What: "coverage probability", Seen: p, Allowed: "0.5 to 0.9999"}
	}
	draw, err := newDraw(inputs, pairs, seed)
	if err != nil {
		return nil, err
	}
	return &run{model: model, draw: draw, x: make([]float64, len(inputs))}, nil
}

// fill draws as many results as there is room for.
func (r *run) fill(values []float64) error {
	for k := range values {
		r.draw(r.x)
		r.done++
		y, err := r.model(r.x)
		if err == nil {
			err = checkFinite("result", y)
		}
		if err != nil {
			return fmt.Errorf("draw %d: %w", r.done, err)
		}
		values[k] = y
	}
	return nil
}

// newDraw gives a function that fills x with one draw of all inputs.
func newDraw(inputs []Distribution, pairs []Correlation, seed uint64) (func(x []float64), error) {
	for i, d := range inputs {
		if err := d.check(); err != nil {
			return nil, fmt.Errorf("input %d: %w", i, err)
		}
	}
	joint, err := checkCorrelations(len(inputs), pairs)
	if err != nil {
		return nil, err
	}
	r := rand.New(rand.NewPCG(seed, 0x9E3779B97F4A7C15)) // second word: any fixed number
	samplers := make([]func() float64, len(inputs))
	for i, d := range inputs {
		samplers[i] = d.sampler(r)
	}
	for _, i := range joint.index {
		if inputs[i].shape != normal {
			return nil, fmt.Errorf("input %d is correlated and %s; only normal inputs can be drawn together", i, shapeNames[inputs[i].shape])
		}
		samplers[i] = func() float64 { return 0 } // filled below
	}
	z := make([]float64, len(joint.index))
	return func(x []float64) {
		for i := range samplers {
			x[i] = samplers[i]()
		}
		for i := range z {
			z[i] = r.NormFloat64()
		}
		for row, i := range joint.index {
			sum := 0.0
			for col, v := range z {
				sum += joint.root[row][col] * v
			}
			x[i] = inputs[i].centre + inputs[i].scale*sum
		}
	}, nil
}

// summarize sorts the values and reads the estimate off them: JCGM 101:2008, 7.5 to 7.7.
func summarize(values []float64, p float64) Estimate {
	slices.Sort(values)
	n := len(values)
	e := Estimate{Draws: n, P: p}
	e.Mean, e.StdU = meanAndDeviation(values)
	inside := min(int(math.Floor(p*float64(n)+0.5)), n-1) // q of 7.7.2
	start := max((n-inside+1)/2-1, 0)                     // r of 7.7.2, counted from 0
	e.Low, e.High = values[start], values[start+inside]
	best := 0
	for s := 1; s+inside < n; s++ {
		if values[s+inside]-values[s] < values[best+inside]-values[best] {
			best = s
		}
	}
	e.ShortestLow, e.ShortestHigh = values[best], values[best+inside]
	return e
}
