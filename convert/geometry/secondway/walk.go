package secondway

import "math"

// steps is how many pieces each straight stretch of a path is cut into. For a fluid of one density any number gives the
// same sum; cutting keeps the walk an integration and not a formula.
const steps = 4

// walk is the pressure along a path, kept with the rounding of its own additions (Neumaier 1974, improved Kahan sum),
// so that hundreds of steps lose no more than the rounding of the single products.
type walk struct {
	g, sum, lost float64
}

func (w *walk) add(dp float64) {
	t := w.sum + dp
	if math.Abs(w.sum) >= math.Abs(dp) {
		w.lost += (w.sum - t) + dp
	} else {
		w.lost += (dp - t) + w.sum
	}
	w.sum = t
}

// climb goes from one height to another in a fluid of density rho: dp = −ρ·g·dz, step by step.
func (w *walk) climb(rho, from, to float64) {
	z := from
	for i := 1; i < steps; i++ {
		next := from + (to-from)*float64(i)/steps
		w.add(-rho * w.g * (next - z))
		z = next
	}
	w.add(-rho * w.g * (to - z))
}

func (w *walk) pressure() float64 { return w.sum + w.lost }
