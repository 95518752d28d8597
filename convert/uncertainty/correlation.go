package uncertainty

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// Correlation is the correlation coefficient of two inputs, named by their place in the list it goes with. Pairs that
// are not listed are uncorrelated; a pair is listed once.
type Correlation struct {
	I, J int
	R    float64 // −1 to 1
}

// eigenTolerance is how far below zero an eigenvalue of a correlation matrix may fall by round-off alone.
const eigenTolerance = 1e-10

// correlated holds the inputs that have a correlation at all, and what their matrix says.
type correlated struct {
	index  []int       // place in the caller's list, for each row of the matrix
	root   [][]float64 // root·rootᵀ is the matrix
	groups [][]int     // sets of inputs that hang together, in places of the caller's list
}

// checkCorrelations validates the pairs for n inputs: places that exist, each pair once, |r| ≤ 1, and a matrix without a
// negative eigenvalue, for no inputs could have another.
func checkCorrelations(n int, pairs []Correlation) (*correlated, error) {
	row := make(map[int]int)
	c := &correlated{}
	seen := make(map[[2]int]bool)
	for _, p := range pairs {
		for _, i := range [2]int{p.I, p.J} {
			if i < 0 || i >= n {
				return nil, &RangeError{What: "input of a correlation", Seen: float64(i), Allowed: fmt.Sprintf("0 to %d", n-1)}
			}
			if _, ok := row[i]; !ok {
				row[i] = len(c.index)
				c.index = append(c.index, i)
			}
		}
		if p.I == p.J {
			return nil, &RangeError{What: "input correlated with itself", Seen: float64(p.I), Allowed: "two different inputs"}
		}
		key := [2]int{min(p.I, p.J), max(p.I, p.J)}
		if seen[key] {
			return nil, &RangeError{What: fmt.Sprintf("second correlation of inputs %d and %d", key[0], key[1]), Seen: p.R, Allowed: "one for each pair"}
		}
		seen[key] = true
		if !(math.Abs(p.R) <= 1) {
			return nil, &RangeError{What: fmt.Sprintf("correlation of inputs %d and %d", key[0], key[1]), Seen: p.R, Allowed: "-1 to 1"}
		}
	}
	if len(c.index) == 0 {
		return c, nil
	}
	m := mat.NewSymDense(len(c.index), nil)
	for i := range c.index {
		m.SetSym(i, i, 1)
	}
	for _, p := range pairs {
		m.SetSym(row[p.I], row[p.J], p.R)
	}
	if err := c.factor(m); err != nil {
		return nil, err
	}
	c.group(m)
	return c, nil
}

// factor finds the square root of m. It works from eigenvalues, not by Cholesky, because |r| = 1 makes m singular and
// is still legitimate.
func (c *correlated) factor(m *mat.SymDense) error {
	var e mat.EigenSym
	if !e.Factorize(m, true) {
		return fmt.Errorf("eigenvalues of the correlation matrix of %d inputs were not found", len(c.index))
	}
	values := e.Values(nil) // ascending
	if values[0] < -eigenTolerance {
		return &RangeError{What: "smallest eigenvalue of the correlation matrix", Seen: values[0],
			Allowed: "0 or more (no inputs can be correlated in this way)"}
	}
	var v mat.Dense
	e.VectorsTo(&v)
	c.root = make([][]float64, len(values))
	for i := range c.root {
		c.root[i] = make([]float64, len(values))
		for j, l := range values {
			c.root[i][j] = v.At(i, j) * math.Sqrt(max(l, 0))
		}
	}
	return nil
}

// group collects the inputs that are linked, directly or through others.
func (c *correlated) group(m *mat.SymDense) {
	done := make([]bool, len(c.index))
	for start := range c.index {
		if done[start] {
			continue
		}
		done[start] = true
		todo, members := []int{start}, []int(nil)
		for len(todo) > 0 {
			i := todo[0]
			todo = todo[1:]
			members = append(members, c.index[i])
			for j := range c.index {
				if !done[j] && m.At(i, j) != 0 {
					done[j] = true
					todo = append(todo, j)
				}
			}
		}
		c.groups = append(c.groups, members)
	}
}

// CorrelationOfMeans estimates the correlation of two means from observations made in pairs, at least two of them.
// It is the r to put into a Correlation. Observations that do not vary give a *RangeError: they say nothing.
//
// Source: JCGM 100:2008, 5.2.3 equation (17) and 5.2.2 equation (14).
func CorrelationOfMeans(x, y []float64) (float64, error) {
	if err := checkLength("paired observations", len(y), len(x)); err != nil {
		return 0, err
	}
	if len(x) < 2 {
		return 0, &RangeError{What: "number of paired observations", Seen: float64(len(x)), Allowed: "2 or more"}
	}
	r := stat.Correlation(x, y, nil)
	if math.IsNaN(r) {
		return 0, &RangeError{What: "correlation of the observations", Seen: r, Allowed: "finite observations that vary in both"}
	}
	return max(-1, min(1, r)), nil
}
