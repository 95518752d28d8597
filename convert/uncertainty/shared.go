package uncertainty

import "fmt"

// Shared is one contribution to one result, under the name of its input, so that results of different instruments can
// be combined: an input of the same name in two results is one input and fully correlated, unless it is Independent.
// An input that belongs to one instrument alone carries the instrument in its name.
type Shared struct {
	Name         string
	Contribution float64 // c·u(x), signed, unit of the result
	Input
}

// WeightedSum gives the standard uncertainty of Σ w_k y_k from the contributions to each y_k, and its effective degrees
// of freedom. A name may stand more than once in a result: shared contributions then add with their signs. A name that
// is once independent and once not, or has two different degrees of freedom, is refused, as are numbers not finite.
//
// Source: as Accumulator.CombinedU.
func WeightedSum(weights []float64, results ...[]Shared) (uc, nu float64, err error) {
	if err := checkLength("weights", len(weights), len(results)); err != nil {
		return 0, 0, err
	}
	place := make(map[string]int)
	acc := &Accumulator{}
	for k, result := range results {
		if err := checkFinite("weight", weights[k]); err != nil {
			return 0, 0, err
		}
		for _, s := range result {
			i, known := place[s.Name]
			if !known {
				i = len(acc.inputs)
				place[s.Name] = i
				if err := acc.grow(s.Input); err != nil {
					return 0, 0, fmt.Errorf("input %s: %w", s.Name, err)
				}
			} else if acc.inputs[i] != s.Input {
				return 0, 0, fmt.Errorf("input %s is stated in two ways: %+v and %+v", s.Name, acc.inputs[i], s.Input)
			}
			if err := checkFinite("contribution of "+s.Name, s.Contribution); err != nil {
				return 0, 0, err
			}
			acc.add(i, weights[k]*s.Contribution)
		}
	}
	uc, nu = acc.CombinedU(1)
	return uc, nu, checkFinite("combined uncertainty", uc)
}

// Difference gives the standard uncertainty of a − b. What both share cancels as far as it contributes alike.
func Difference(a, b []Shared) (uc, nu float64, err error) {
	return WeightedSum([]float64{1, -1}, a, b)
}

// Average gives the standard uncertainty of the mean of at least one result. Only independent inputs average out.
func Average(results ...[]Shared) (uc, nu float64, err error) {
	if len(results) == 0 {
		return 0, 0, &RangeError{What: "number of results", Seen: 0, Allowed: "1 or more"}
	}
	weights := make([]float64, len(results))
	for i := range weights {
		weights[i] = 1 / float64(len(results))
	}
	return WeightedSum(weights, results...)
}

// Covariance gives the covariance of two results from the inputs they share, in the square of their unit.
//
// Source: JCGM 100:2008, F.1.2.3 equation (F.2), each contribution standing for one standard uncertainty of its input.
func Covariance(a, b []Shared) (float64, error) {
	sums := [2]map[string]float64{{}, {}}
	for k, result := range [2][]Shared{a, b} {
		for _, s := range result {
			if err := checkFinite("contribution of "+s.Name, s.Contribution); err != nil {
				return 0, err
			}
			if !s.Independent {
				sums[k][s.Name] += s.Contribution
			}
		}
	}
	var covariance float64
	for _, s := range a { // in the order given, for the same last digit every time
		covariance += sums[0][s.Name] * sums[1][s.Name]
		delete(sums[0], s.Name)
	}
	return covariance, checkFinite("covariance", covariance)
}
