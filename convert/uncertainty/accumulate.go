package uncertainty

import (
	"fmt"
	"math"
)

// Input says how one input behaves from one result to the next.
type Input struct {
	// Independent inputs err anew in every result, like the reading of a position. The others err alike in all of them,
	// like the density of the liquid or a zero: they stay in an average and cancel in a difference.
	Independent bool
	DOF         float64 // degrees of freedom of the input's uncertainty, 1 or more, +Inf allowed
}

// Accumulator combines weighted sums of results that have the same inputs in the same order: averages and differences
// of the readings of one instrument. After NewAccumulator it allocates nothing. Not safe for concurrent use.
type Accumulator struct {
	inputs  []Input
	linear  []float64 // Σ w·d, for inputs that err alike
	squares []float64 // Σ (w·d)², for independent ones
	contrib []float64 // scratch
	dof     []float64
}

// NewAccumulator prepares for results with these inputs. Degrees of freedom below 1 give a *RangeError.
func NewAccumulator(inputs []Input) (*Accumulator, error) {
	a := &Accumulator{}
	for i, in := range inputs {
		if err := a.grow(in); err != nil {
			return nil, fmt.Errorf("input %d: %w", i, err)
		}
	}
	return a, nil
}

func (a *Accumulator) grow(in Input) error {
	if err := checkDOF("degrees of freedom", in.DOF); err != nil {
		return err
	}
	a.inputs = append(a.inputs, in)
	a.linear, a.squares = append(a.linear, 0), append(a.squares, 0)
	a.contrib, a.dof = append(a.contrib, 0), append(a.dof, in.DOF)
	return nil
}

// Reset forgets what was added.
func (a *Accumulator) Reset() {
	clear(a.linear)
	clear(a.squares)
}

// Add adds one result with its weight: 1 for a sum, −1 for what is subtracted, the time it stood for in a time average.
// contrib holds the signed contributions c_i·u(x_i); those beyond the inputs are not looked at, so that a fixed array
// can be passed whole. Fewer than the inputs give a *RangeError and nothing is added. A number that is not finite makes
// CombinedU answer NaN until Reset.
func (a *Accumulator) Add(weight float64, contrib []float64) error {
	if len(contrib) < len(a.inputs) {
		return checkLength("contributions", len(contrib), len(a.inputs))
	}
	for i := range a.inputs {
		a.add(i, weight*contrib[i])
	}
	return nil
}

func (a *Accumulator) add(i int, d float64) {
	if a.inputs[i].Independent {
		a.squares[i] += d * d
	} else {
		a.linear[i] += d
	}
}

// CombinedU gives the standard uncertainty of the weighted sum over divisor, and its effective degrees of freedom.
// For an average the divisor is the sum of the weights, for a difference 1. A divisor of 0 gives NaN.
//
//	u_c² = (1/D²) [ Σ_alike (Σ_k w_k d_ik)² + Σ_independent Σ_k (w_k d_ik)² ]
//
// An independent input keeps the degrees of freedom of its uncertainty however many results are added: they err anew,
// but how much they err was estimated once. What is left after merging is independent, so Welch-Satterthwaite holds.
//
// Source: JCGM 100:2008, 5.2.2 equation (13) with r = 1 for what errs alike, F.1.2.3, and G.4.1 equation (G.2b).
func (a *Accumulator) CombinedU(divisor float64) (uc, nu float64) {
	for i := range a.inputs {
		a.contrib[i] = (a.linear[i] + math.Sqrt(a.squares[i])) / divisor
	}
	return Combine(a.contrib, a.dof)
}
