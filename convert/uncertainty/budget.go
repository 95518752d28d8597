package uncertainty

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Component is one input of a result with its standard uncertainty.
type Component struct {
	Name        string
	Unit        string  // of Value and U
	Value       float64 // best estimate
	U           float64 // standard uncertainty, 0 where the input is exact
	Sensitivity float64 // c = ∂f/∂x, unit of the result per Unit, signed
	DOF         float64 // degrees of freedom of U, 1 or more, +Inf where U is taken as exact; 0 is refused, not "unset"
	Assumed     bool    // U is a default, not the user's statement
}

// Contribution is c·u, signed, in the unit of the result.
func (c Component) Contribution() float64 { return c.Sensitivity * c.U }

// Budget is the uncertainty budget of one result: its components, and what they come to together.
type Budget struct {
	Components   []Component
	Correlations []Correlation

	CombinedU    float64 // u_c, unit of the result
	EffectiveDOF float64 // ν_eff, not truncated
	// ApproximateDOF says that correlated inputs with finite degrees of freedom were met, so that EffectiveDOF is the
	// rule described at NewBudget and not the Welch-Satterthwaite formula alone.
	ApproximateDOF bool

	P              float64 // coverage probability
	CoverageFactor float64 // k, from EffectiveDOF truncated
	ExpandedU      float64 // U = k·u_c
}

// NewBudget combines components, correlated or not, to first order.
//
//	u_c² = Σ d_i² + 2 Σ_{i<j} d_i d_j r_ij        d_i = c_i·u(x_i)
//
// The Welch-Satterthwaite formula holds for independent contributions only. Inputs that are correlated, directly or
// through others, are therefore first merged into one contribution, and the formula is applied to the merged ones,
// which are independent of each other. A merged contribution gets the smallest degrees of freedom among its members.
// That is exact where the members were observed together, n times each (all have ν = n−1, as has the result), and our own
// cautious choice elsewhere; no standard states it, and ApproximateDOF marks it.
//
// Not finite values, negative uncertainties, degrees of freedom below 1 and impossible correlations give a *RangeError,
// wrapped with the name of the component. Sensitivities are the caller's; where the result bends within one u, add
// SecondOrderVariance or compare with Propagate.
//
// Source: JCGM 100:2008, 5.2.2 equation (16), G.4.1 equation (G.2b), 6.2.1.
func NewBudget(components []Component, correlations []Correlation, coverage *Coverage) (Budget, error) {
	if coverage == nil || len(coverage.table) == 0 {
		return Budget{}, fmt.Errorf("uncertainty budget: no coverage probability given")
	}
	for _, c := range components {
		if err := c.check(); err != nil {
			return Budget{}, fmt.Errorf("uncertainty of %s: %w", c.Name, err)
		}
	}
	linked, err := checkCorrelations(len(components), correlations)
	if err != nil {
		return Budget{}, fmt.Errorf("uncertainty budget: %w", err)
	}
	b := Budget{Components: components, Correlations: correlations, P: coverage.P()}
	contrib, dof := b.independent(linked)
	b.CombinedU, b.EffectiveDOF = Combine(contrib, dof)
	b.CoverageFactor = coverage.K(b.EffectiveDOF)
	b.ExpandedU = b.CoverageFactor * b.CombinedU
	if err := checkFinite("expanded uncertainty", b.ExpandedU); err != nil {
		return Budget{}, fmt.Errorf("uncertainty budget: %w", err)
	}
	return b, nil
}

func (c Component) check() error {
	for _, err := range []error{
		checkFinite("value", c.Value),
		checkU("standard uncertainty", c.U),
		checkFinite("sensitivity", c.Sensitivity),
		checkFinite("contribution", c.Contribution()),
		checkDOF("degrees of freedom", c.DOF),
	} {
		if err != nil {
			return err
		}
	}
	return nil
}

// independent gives the contributions with every linked group merged into one.
func (b *Budget) independent(linked *correlated) (contrib, dof []float64) {
	group := make([]int, len(b.Components)) // 1 + number of the group; 0 for a component on its own
	for g, members := range linked.groups {
		for _, i := range members {
			group[i] = g + 1
		}
	}
	variance := make([]float64, len(linked.groups)+1)
	least := make([]float64, len(linked.groups)+1)
	for g := range least {
		least[g] = math.Inf(1)
	}
	for i, c := range b.Components {
		d := c.Contribution()
		g := group[i]
		if g == 0 {
			contrib, dof = append(contrib, d), append(dof, c.DOF)
			continue
		}
		variance[g] += d * d
		if d != 0 {
			least[g] = min(least[g], c.DOF)
		}
	}
	for _, p := range b.Correlations {
		variance[group[p.I]] += 2 * p.R * b.Components[p.I].Contribution() * b.Components[p.J].Contribution()
	}
	for g := 1; g < len(variance); g++ {
		// A positive semi-definite matrix cannot give a negative variance; round-off can.
		contrib, dof = append(contrib, math.Sqrt(max(variance[g], 0))), append(dof, least[g])
		b.ApproximateDOF = b.ApproximateDOF || len(linked.groups[g-1]) > 1 && !math.IsInf(least[g], 1)
	}
	return contrib, dof
}

// Share is one line of a budget's table of shares.
type Share struct {
	Index        int // place in Budget.Components; -1 for the line of the correlations
	Name         string
	Contribution float64 // c·u, signed, unit of the result; 0 for the line of the correlations
	Fraction     float64 // of u_c²
	Assumed      bool
}

// CorrelationShare is the name of the last line of Shares where inputs are correlated.
const CorrelationShare = "correlation"

// Shares gives the fraction of u_c² that each component brings, largest contribution first and equal ones in the order
// of Components. Where there are correlations a last line holds what their cross terms bring, which may be negative; the
// others may then exceed 1. The fractions sum to 1, or are all 0 where u_c is 0.
func (b Budget) Shares() []Share {
	shares := make([]Share, 0, len(b.Components)+1)
	rest := 1.0
	for i, c := range b.Components {
		s := Share{Index: i, Name: c.Name, Contribution: c.Contribution(), Assumed: c.Assumed}
		if b.CombinedU > 0 {
			r := s.Contribution / b.CombinedU
			s.Fraction = r * r
		}
		rest -= s.Fraction
		shares = append(shares, s)
	}
	slices.SortStableFunc(shares, func(x, y Share) int {
		return cmp.Compare(math.Abs(y.Contribution), math.Abs(x.Contribution))
	})
	if len(b.Correlations) > 0 {
		if b.CombinedU == 0 {
			rest = 0
		}
		shares = append(shares, Share{Index: -1, Name: CorrelationShare, Fraction: rest})
	}
	return shares
}
