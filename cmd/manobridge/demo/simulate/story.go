package simulate

import (
	"math"
	"strconv"
	"time"
)

// dustDay is the story of the example hall: a filter-test bench feeds dust onto two banks, which load and are changed,
// and beside it a suite of three rooms keeps its cascade while people pass the doors. Loading takes minutes here
// that take months in a building.
type dustDay struct {
	seed  uint64
	phase [2]float64 // how far each bank is loaded at the start, 0 to 1
	sway  map[string]float64
}

func newDustDay(seed uint64) Story {
	r := stream(seed, "story")
	d := &dustDay{seed: seed, phase: [2]float64{0.6 + 0.25*r.Float64(), 0.2 + 0.3*r.Float64()}, sway: map[string]float64{}}
	for _, name := range []string{"bank-a", "bank-b", "fan-header", "exhaust-duct", "airlock", "gowning", "filling-room", "supply-duct", "bench-total"} {
		d.sway[name] = 2 * math.Pi * r.Float64()
	}
	return d
}

// bank is one filter bank between two changes.
type bank struct {
	clean, full float64       // Pa
	life        time.Duration // from change to change
}

var bankA, bankB = bank{78, 265, 150 * time.Second}, bank{135, 470, 400 * time.Second}

// pa gives the resistance of a bank: it grows slowly at first and faster as the dust cake builds (here exponentially,
// by choice), and falls within a second when the bank is changed.
func (b bank) pa(at time.Duration, phase float64) float64 {
	lives := at.Seconds()/b.life.Seconds() + phase
	n, x := math.Floor(lives), lives-math.Floor(lives)
	const k = 1.6
	loaded := b.clean + (b.full-b.clean)*math.Expm1(k*x)/math.Expm1(k)
	if age := x * b.life.Seconds(); n > 0 && age < 1 {
		s := age * age * (3 - 2*age) // eased, so that the step is steep and not infinite
		loaded = b.full + (loaded-b.full)*s
	}
	return loaded
}

// rooms of the suite from the corridor inwards, their pressure against the corridor with every door shut, in Pa.
var cascade = []float64{12, 24, 38}

// open tells how far the door into room i (from the corridor inwards) stands open, 0 to 1. The doors are interlocked:
// every quarter of a minute at most one opens, for two to five seconds; the rooms recover over a second or two.
func (d *dustDay) open(door int, at time.Duration) float64 {
	const window = 15 * time.Second
	k := at / window
	r := stream(d.seed, "door", strconv.FormatInt(int64(k), 10))
	which, opens, held := r.IntN(len(cascade)+1), 1+4*r.Float64(), 2+3*r.Float64()
	if which != door {
		return 0
	}
	s := (at - k*window).Seconds() - opens
	switch {
	case s < 0:
		return 0
	case s < held:
		return 1 - math.Exp(-s/0.25)
	}
	// Shut no later than 10 s into the window; what is left of the recovery is eased to nothing before the window ends.
	return math.Exp(-(s-held)/1.2) * math.Min(1, math.Max(0, (14-opens-s)/2))
}

// room gives the pressure of room i against the corridor, in Pa. An open door draws the two rooms beside it together.
func (d *dustDay) room(i int, at time.Duration) float64 {
	pa := cascade[i]
	outer := 0.0
	if i > 0 {
		outer = cascade[i-1]
	}
	pa -= 0.6 * d.open(i, at) * (cascade[i] - outer)
	if i+1 < len(cascade) {
		pa += 0.25 * d.open(i+1, at) * (cascade[i+1] - cascade[i])
	}
	return pa
}

// PressurePa implements Story.
func (d *dustDay) PressurePa(instrument string, at time.Duration) float64 {
	a, b := bankA.pa(at, d.phase[0]), bankB.pa(at, d.phase[1])
	s := at.Seconds()
	sway := math.Sin(2*math.Pi*s/2.3 + d.sway[instrument]) // the fan hunts a little
	switch instrument {
	case "bank-a":
		return a * (1 + 0.003*sway)
	case "bank-b":
		return b * (1 + 0.003*sway)
	case "fan-header":
		return (a + b + 95) * (1 + 0.003*sway)
	case "bench-total":
		return (a + b) * (1 + 0.003*sway)
	case "supply-duct":
		return 620 + 40*math.Sin(2*math.Pi*s/97) + 3*sway
	case "exhaust-duct":
		return 410 + 25*math.Sin(2*math.Pi*s/71) + 3*sway
	case "airlock":
		return d.room(0, at) + 0.15*sway
	case "gowning":
		return d.room(1, at) + 0.15*sway
	case "filling-room":
		return d.room(2, at) + 0.15*sway
	}
	return 0
}

// LiquidC implements Story: the hall warms and cools over a part of an hour, each instrument with its own lag.
func (d *dustDay) LiquidC(instrument string, at time.Duration) float64 {
	s := at.Seconds()
	return 21.6 + 0.9*math.Sin(2*math.Pi*s/1500+0.3*d.sway[instrument]) + 0.12*math.Sin(2*math.Pi*s/190+d.sway[instrument])
}
