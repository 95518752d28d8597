package convert

import "time"

// Average is what an averaged result was made of. The result itself is that of the mean positions.
type Average struct {
	// Window is the span it was taken over, monotonic, from the first reading of the window to the one that closed it.
	Window time.Duration
	// Samples counts the readings of the window, the closing one and refused ones included; Good those that went into
	// the mean.
	Samples, Good int
	// MinPa, MeanPa and MaxPa are those of the pressures of the good readings, in Pa. Not finite where Good is 0.
	MinPa, MeanPa, MaxPa float64
	// SDPa is the experimental standard deviation of those pressures, in Pa: how much the pressure itself moved and the
	// line was noisy, not the uncertainty of the mean. Not finite where Good is under 2. Source: JCGM 100:2008, 4.2.2.
	SDPa float64
}

// GoodFraction is the share of the window's readings that went into the mean, 0 to 1.
func (a *Average) GoodFraction() float64 {
	if a.Samples == 0 {
		return 0
	}
	return float64(a.Good) / float64(a.Samples)
}
