package uncertainty

import "math"

// RectangularU gives the standard uncertainty of a quantity that lies within ±a, anywhere with equal right: a/√3.
// A negative or not finite half-width gives NaN. Source: JCGM 100:2008, 4.3.7 equation (7).
func RectangularU(a float64) float64 { return halfWidthU(a, math.Sqrt(3)) }

// TriangularU gives the standard uncertainty of a quantity within ±a that is more likely near the middle: a/√6.
// A negative or not finite half-width gives NaN. Source: JCGM 100:2008, 4.3.9 equation (9b).
func TriangularU(a float64) float64 { return halfWidthU(a, math.Sqrt(6)) }

// ArcsineU gives the standard uncertainty of a quantity that cycles like a sine between −a and +a, read at an unknown
// moment: a/√2. A negative or not finite half-width gives NaN. Source: JCGM 100:2008, H.1.3.4.
func ArcsineU(a float64) float64 { return halfWidthU(a, math.Sqrt2) }

// ResolutionU gives the standard uncertainty of an indication that is rounded to steps of q: q/√12.
// A negative or not finite step gives NaN. Source: JCGM 100:2008, F.2.2.1.
func ResolutionU(q float64) float64 { return halfWidthU(q, math.Sqrt(12)) }

func halfWidthU(a, divisor float64) float64 {
	if checkU("half-width", a) != nil {
		return math.NaN()
	}
	return a / divisor
}
