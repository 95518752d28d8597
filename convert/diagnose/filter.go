package diagnose

import (
	"math"
	"time"
)

// smooth is a mean that forgets with a time constant, whatever the times between values.
type smooth struct {
	V   float64       `json:"v"`
	Has time.Duration `json:"has_ns"` // how much time it stands on, up to many time constants
	at  time.Duration
	set bool
}

// add takes a value. At first it is the plain mean by time, so that it does not lean on its first value.
func (s *smooth) add(at time.Duration, v float64, constant time.Duration) {
	if !s.set {
		s.set, s.at = true, at
		if s.Has == 0 {
			s.V = v
		}
		return
	}
	dt := at - s.at
	s.at = at
	if dt <= 0 {
		return
	}
	dt = min(dt, constant/4) // a pause says nothing of what was in it
	s.Has = min(s.Has+dt, 100*constant)
	share := float64(dt) / float64(min(s.Has, constant))
	if s.Has > constant {
		share = 1 - math.Exp(-float64(dt)/float64(constant))
	}
	s.V += (v - s.V) * min(share, 1)
}

// ring holds the values of the latest time.
type ring struct {
	at []time.Duration
	v  []float64
}

// most bounds a ring. At more than that many readings in its time the oldest go sooner.
const most = 512

// add takes a value and lets go of what is older than over.
func (r *ring) add(at time.Duration, v float64, over time.Duration) {
	drop := 0
	for drop < len(r.at) && (at-r.at[drop] > over || len(r.at)-drop >= most) {
		drop++
	}
	if drop > 0 {
		n := copy(r.at, r.at[drop:])
		copy(r.v, r.v[drop:])
		r.at, r.v = r.at[:n], r.v[:n]
	}
	r.at, r.v = append(r.at, at), append(r.v, v)
}

// span is how much time it covers.
func (r *ring) span() time.Duration {
	if len(r.at) < 2 {
		return 0
	}
	return r.at[len(r.at)-1] - r.at[0]
}

// mean gives the mean and the standard deviation.
func (r *ring) mean() (mean, sd float64) {
	n := float64(len(r.v))
	if n == 0 {
		return 0, 0
	}
	for _, v := range r.v {
		mean += v
	}
	mean /= n
	if n < 2 {
		return mean, 0
	}
	sum := 0.0
	for _, v := range r.v {
		sum += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(sum / (n - 1))
}

// slope gives the straight line through the values, per second.
func (r *ring) slope() float64 {
	mean, _ := r.mean()
	var t0, tt, tv float64
	for _, at := range r.at {
		t0 += (at - r.at[0]).Seconds()
	}
	t0 /= float64(len(r.at))
	for i, at := range r.at {
		t := (at - r.at[0]).Seconds() - t0
		tt += t * t
		tv += t * (r.v[i] - mean)
	}
	if tt == 0 {
		return 0
	}
	return tv / tt
}
