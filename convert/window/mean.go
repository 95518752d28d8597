package window

import "math"

// batches is the largest number of batch means a series is kept as.
const batches = 64

// series is a run of equally spaced values kept in bounded memory: its mean, and the means of equal batches of it, whose
// size doubles each time there would be more than so many.
type series struct {
	running

	size  int // values in a full batch
	full  []float64
	sum   float64 // of the batch being filled
	part  int     // values in it
	first float64 // what sums are taken from, so that no digits are lost on a large offset
}

func (s *series) add(x float64) {
	if s.n == 0 {
		s.size, s.first = 1, x
	}
	s.running.add(x)
	s.sum += x - s.first
	s.part++
	if s.part < s.size {
		return
	}
	if len(s.full) == batches {
		for i := range batches / 2 {
			s.full[i] = (s.full[2*i] + s.full[2*i+1]) / 2
		}
		s.full = s.full[:batches/2]
		s.size *= 2
		return // the batch that was full is the first half of one of the new size
	}
	s.full = append(s.full, s.sum/float64(s.size))
	s.sum, s.part = 0, 0
}

// reset empties the series and keeps its memory.
func (s *series) reset() { *s = series{full: s.full[:0]} }

// ofMean gives the standard uncertainty of the mean of a series from its own scatter, and its degrees of freedom. It is
// that of the mean of independent values, s/√n, with n replaced by the number of independent values that tell as much:
//
//	u = s/√n_e    n_e = m/τ    τ = 1 + 2 Σ (1 − k/m) ρ_k    ν = n_e − 1
//
//	s    experimental standard deviation of the m batch means, its bias by their correlation taken out
//	ρ_k  their autocorrelation at lag k, its bias taken out as well
//
// The sum ends where the sum of two neighbours is no longer positive, from where on an estimate is noise. τ is never taken
// below 1: alternation makes no mean better here than independent values would. Batches are as the values themselves up
// to 64 of them, and grow beyond.
//
// Of under 2 values nothing can be told: u is 0 with 0 degrees of freedom. For independent values u comes out a tenth to a
// fifth above s/√n, as chance likeness among them is not told from a true one. A trend of the pressure over the window counts
// as scatter, so u is then too large. A correlation longer than about a tenth of the series cannot be seen in it, and u is
// then too small.
//
// Sources: JCGM 100:2008, 4.2.3 (s/√n) and its note to 4.2.7 (correlated observations); N. F. Zhang, Calculation of the
// uncertainty of the mean of autocorrelated measurements, Metrologia 43 (2006) S276; C. J. Geyer, Practical Markov Chain
// Monte Carlo, Statistical Science 7 (1992) 473, where to end the sum; all from memory.
func (s *series) ofMean() (u, dof float64) {
	y := s.full
	m := float64(len(y))
	if len(y) < 2 {
		return 0, 0
	}
	mean := 0.0
	for _, v := range y {
		mean += v
	}
	mean /= m
	c0 := covariance(y, mean, 0)
	if c0 <= 0 {
		return 0, 0 // every value alike: the step of the digitizer hides the scatter, and has its own uncertainty
	}
	tau := 1.0
	// A second round uses the first τ to take the bias out of the correlations: about −τ/m each, as they are taken from
	// the mean of the same values.
	for range 3 {
		bias := min(tau/m, 0.5)
		rho := func(k int) float64 { return covariance(y, mean, k)/c0*(1-bias) + bias }
		sum := 1.0
		for k := 1; k < len(y)/2; k += 2 {
			a, b := rho(k), rho(k+1)
			if k+1 >= len(y) || a+b <= 0 {
				break
			}
			sum += 2 * ((1-float64(k)/m)*a + (1-float64(k+1)/m)*b)
		}
		tau = math.Min(math.Max(sum, 1), m/2)
	}
	// c0 is the sum of squares over m; its expectation is σ²(1 − τ/m).
	variance := c0 / (1 - tau/m)
	return math.Sqrt(variance * tau / m), math.Max(m/tau-1, 1)
}

// covariance is the autocovariance at lag k, over m whatever the lag.
func covariance(y []float64, mean float64, k int) float64 {
	sum := 0.0
	for i := k; i < len(y); i++ {
		sum += (y[i] - mean) * (y[i-k] - mean)
	}
	return sum / float64(len(y))
}
