package uncertainty

// SecondOrderVariance gives what the curvature of the model adds to u_c² for independent inputs whose distributions are
// symmetric (the formula takes them as normal).
//
//	Σ_i Σ_j [ ½ f_ij² + f_i f_ijj ] u_i² u_j²
//
//	u       standard uncertainties u_i                                          unit of input i
//	first   f_i, the sensitivities                                              result per input
//	second  f_ij = ∂²f/∂x_i∂x_j, symmetric                                      result per input i per input j
//	third   f_ijj = ∂³f/∂x_i∂x_j², in row i, column j; nil where all are zero
//
// The sum may be negative where third derivatives are. Lists of unequal length and numbers that are not finite give a
// *RangeError.
//
// Source: JCGM 100:2008, 5.1.2 note.
func SecondOrderVariance(u, first []float64, second, third [][]float64) (float64, error) {
	n := len(u)
	if err := checkLength("sensitivities", len(first), n); err != nil {
		return 0, err
	}
	if err := checkSquare("second derivatives", second, n); err != nil {
		return 0, err
	}
	if third != nil {
		if err := checkSquare("third derivatives", third, n); err != nil {
			return 0, err
		}
	}
	var sum float64
	for i := range u {
		if err := checkU("standard uncertainty", u[i]); err != nil {
			return 0, err
		}
		for j := range u {
			bend := second[i][j] * second[i][j] / 2
			if third != nil {
				bend += first[i] * third[i][j]
			}
			sum += bend * u[i] * u[i] * u[j] * u[j]
		}
	}
	if err := checkFinite("second-order variance", sum); err != nil {
		return 0, err
	}
	return sum, nil
}

func checkSquare(what string, m [][]float64, n int) error {
	if err := checkLength("rows of "+what, len(m), n); err != nil {
		return err
	}
	for _, row := range m {
		if err := checkLength("columns of "+what, len(row), n); err != nil {
			return err
		}
	}
	return nil
}
