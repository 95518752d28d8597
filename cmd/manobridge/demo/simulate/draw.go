package simulate

import (
	"hash/fnv"
	"math/rand/v2"
)

// Input is a value as its owner declares it: best estimate and standard uncertainty (k = 1), both in the unit of
// the field that holds it. U = 0 means exact.
type Input struct{ Value, U float64 }

// Draw is one input as it really is, beside what was declared.
type Draw struct {
	Of       string // the instrument or liquid, or "site"
	Key      string // what it is, as the configuration calls it
	Declared Input
	True     float64
}

// drawer draws true values and keeps account of them.
type drawer struct {
	rand *rand.Rand
	of   string
	log  *[]Draw
}

// draw takes the true value of an input from its normal distribution.
func (d drawer) draw(key string, in Input) float64 {
	v := in.Value
	if in.U > 0 {
		v += in.U * d.rand.NormFloat64()
		*d.log = append(*d.log, Draw{Of: d.of, Key: key, Declared: in, True: v})
	}
	return v
}

// stream gives a source of random numbers of its own to each name, so that adding an instrument leaves the draws of
// the others as they were.
func stream(seed uint64, names ...string) *rand.Rand {
	h := fnv.New64a()
	for _, n := range names {
		h.Write([]byte(n))
		h.Write([]byte{0})
	}
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}
