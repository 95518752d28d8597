package secondway

import (
	"errors"
	"math"
)

var errNoBalance = errors.New("no position balances this pressure: what stands above must be lighter than what stands below")

// balance finds x where the falling function f is zero, bisecting down to the resolution given. The first bracket is
// one `reach` to each side and doubles until it holds the zero.
//
// Bisection, because nothing but the sign of f is trusted; the end with the smaller residual is returned.
func balance(f func(float64) float64, reach, resolution float64) (float64, error) {
	lo, hi := -reach, reach
	flo, fhi := f(lo), f(hi)
	for i := 0; flo < 0 || fhi > 0; i++ {
		if i == 40 || math.IsNaN(flo) || math.IsNaN(fhi) {
			return 0, errNoBalance
		}
		if flo < 0 {
			lo *= 2
			flo = f(lo)
		}
		if fhi > 0 {
			hi *= 2
			fhi = f(hi)
		}
	}
	if math.IsNaN(flo) || math.IsNaN(fhi) {
		return 0, errNoBalance
	}
	for hi-lo > resolution {
		mid := lo + (hi-lo)/2
		if mid == lo || mid == hi {
			break
		}
		fm := f(mid)
		switch {
		case fm > 0:
			lo, flo = mid, fm
		case fm < 0:
			hi, fhi = mid, fm
		default:
			return mid, nil
		}
	}
	if math.Abs(flo) < math.Abs(fhi) {
		return lo, nil
	}
	return hi, nil
}
