package geometry

import (
	"fmt"
	"math"
	"sort"
)

// Profile is the shape of a bent tube: heights at distances along it, straight in between.
//
//	p(high) − p(low) = g [(ρ − ρ_l) (z(s) − z(s₀)) + (ρ − ρ_h) (s − s₀) a/A]
//
//	s, s₀  length along the tube, now and at the zero  m
//	z(s)   height of the tube at s                     m
//	a/A    bore area over the free area of the         1
//	       reservoir
//
// for a uniform bore, taps level and the same gas in both legs. A dual slope is a profile of three points. Source: derived
// from the walk with z_l = z(s) − z(s₀) and z_h = −(s − s₀) a/A.
//
// It is not changed after NewProfile, and safe for concurrent use.
type Profile struct {
	along, height []float64 // m, both rising
	run           []float64 // horizontal coordinate at each point, m
}

// NewProfile makes a profile of at least two points, in m. Distances must rise, and heights by no more than they do.
func NewProfile(along, height []float64) (*Profile, error) {
	p := &Profile{along: along, height: height, run: make([]float64, len(along))}
	if len(along) < 2 || len(along) != len(height) {
		return nil, &RangeError{Quantity: "points of a bent tube", Seen: fmt.Sprint(len(along)), Allowed: "2 or more"}
	}
	for i := 1; i < len(along); i++ {
		d, h := along[i]-along[i-1], height[i]-height[i-1]
		// A vertical piece measured with a rule may come out a hair longer in height than in length.
		if !(d > 0) || !(h > 0) || h > d*(1+1e-9) {
			return nil, &RangeError{Quantity: fmt.Sprintf("point %d of a bent tube", i+1), Seen: fmt.Sprintf("%g mm along and %g mm up from the one before", d*1000, h*1000),
				Allowed: "a step forward that rises, by no more than its length"}
		}
		p.run[i] = p.run[i-1] + math.Sqrt(math.Max(0, d*d-h*h))
	}
	return p, nil
}

func (p *Profile) check(name string) error {
	if p.along == nil {
		return &RangeError{Quantity: name + " profile", Seen: "none", Allowed: "2 points or more"}
	}
	return nil
}

// Ends are the first and the last distance along the tube, m.
func (p *Profile) Ends() (first, last float64) { return p.along[0], p.along[len(p.along)-1] }

// piece finds the piece that holds x and how far along it x lies, 0 to 1 inside the tube. Beyond an end it is the last
// piece; whether that is allowed is the caller's to check.
func (p *Profile) piece(x float64) (i int, w float64) {
	i = sort.SearchFloat64s(p.along, x)
	i = min(max(i, 1), len(p.along)-1)
	return i - 1, (x - p.along[i-1]) / (p.along[i] - p.along[i-1])
}

// at gives the height over the first point's zero, as Limb.at does.
func (p *Profile) at(x, tilt, cross float64) spot {
	i, w := p.piece(x)
	d := p.along[i+1] - p.along[i]
	dz, dr := p.height[i+1]-p.height[i], p.run[i+1]-p.run[i]
	z, r := p.height[i]+w*dz, p.run[i]+w*dr
	st, ct := math.Sincos(tilt)
	sc, cc := math.Sincos(cross)
	up := z*ct + r*st
	return spot{z: up * cc, dx: (dz*ct + dr*st) / d * cc, dTilt: (r*ct - z*st) * cc, dCross: -up * sc}
}

// Weights gives Σ (w_i(x) − w_i(x₀))² over the points, where height at x is Σ w_i h_i: by it, the standard uncertainty
// of one point's height, squared, becomes that of the height from x₀ to x. slopes weights each by the slope of its piece,
// for the uncertainty of the distances.
func (p *Profile) Weights(x, x0 float64, slopes bool) float64 {
	i, w := p.piece(x)
	j, v := p.piece(x0)
	at := func(k, piece int, part float64) float64 {
		s := 1.0
		if slopes {
			s = (p.height[piece+1] - p.height[piece]) / (p.along[piece+1] - p.along[piece])
		}
		switch k {
		case piece:
			return (1 - part) * s
		case piece + 1:
			return part * s
		}
		return 0
	}
	sum := 0.0
	for _, k := range [4]int{i, i + 1, j, j + 1} {
		d := at(k, i, w) - at(k, j, v)
		sum += d * d
	}
	// A point that both pieces have was counted twice.
	for _, k := range [2]int{i, i + 1} {
		if k == j || k == j+1 {
			d := at(k, i, w) - at(k, j, v)
			sum -= d * d
		}
	}
	return sum
}

// BentReservoir is a reservoir instrument with a bent tube.
func BentReservoir(profile *Profile, bore, areaRatio, highTap, lowTap float64) *TwoLimb {
	m := Reservoir(math.Pi/2, bore, areaRatio, highTap, lowTap)
	m.Name, m.Low.Profile = "profile", profile
	m.Equation = "p(high) − p(low) = g [(ρ − ρ_l) (z(s) − z(s₀)) + (ρ − ρ_h) (s − s₀) a/A]"
	return m
}
