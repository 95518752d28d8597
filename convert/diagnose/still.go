package diagnose

import (
	"fmt"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

const (
	// usual is how many changes of the position must have been seen before one that stands still is strange, and lively how
	// long the longest ordinary stand may be, in readings, for that to be judged at all: a coarse digitizer stands still of
	// itself.
	usual  = 200
	lively = 20
	// standsFor and frozenFor are how many times the longest ordinary stand; with times, so that a fast line does not hurry.
	standsFor, standsTime = 10, time.Minute
	frozenFor, frozenTime = 100, 10 * time.Minute
)

// StillMemory is how long the positions of an instrument stand still, in readings: the longest stand among the latest usual
// changes and the ones before, so that one that was strange at the start is forgotten.
type StillMemory struct {
	Changes uint64 `json:"changes"`
	Now     uint64 `json:"now"`
	Before  uint64 `json:"before"`
}

func (m *StillMemory) longest() uint64 { return max(m.Now, m.Before) }

// still counts identical positions in a row.
type still struct {
	m    *StillMemory
	at   time.Duration
	has  bool
	high convert.Optional[quantity.Length]
	low  convert.Optional[quantity.Length]
	mark convert.Optional[float64]
	n    uint64
	from time.Duration
	know bool
}

func (s *still) take(r *convert.Result) bool {
	if r.SinceStart == s.at && s.has {
		return s.know
	}
	s.at, s.know = r.SinceStart, false
	if r.Refusal != nil && !r.High.Set && !r.Low.Set && !r.Indicated.Set {
		return false
	}
	s.know = true
	if s.has && r.High == s.high && r.Low == s.low && r.Indicated == s.mark {
		s.n++
		return true
	}
	if s.has {
		s.m.Changes++
		if s.m.Changes < usual || s.n <= lively {
			s.m.Now = max(s.m.Now, s.n)
		}
		if s.m.Changes%usual == 0 {
			s.m.Before, s.m.Now = s.m.Now, 0
		}
	}
	s.has, s.high, s.low, s.mark, s.n, s.from = true, r.High, r.Low, r.Indicated, 1, r.SinceStart
	return true
}

func (s *still) longer(times uint64, d time.Duration) (string, bool) {
	longest := s.m.longest()
	if s.m.Changes < usual || longest > lively {
		return "", true // not judged, and nothing that was found stays
	}
	stood := s.at - s.from
	if s.n < times*max(longest, 2) || stood < d {
		return "", true
	}
	return fmt.Sprintf("the same position %d times in a row over %v; never before more than %d times", s.n, stood.Round(time.Second), longest), true
}

// stands finds a value that has stood still for longer than ever.
type stands struct{ s *still }

func (d *stands) see(r *convert.Result) (string, bool) {
	if !d.s.take(r) {
		return "", false
	}
	return d.s.longer(standsFor, standsTime)
}

func (*stands) finding() (convert.Cause, string) {
	return convert.ValueStill, "look whether the column moves; check the digitizer"
}

// frozen finds one that has stood still for so long that it is proof.
type frozen struct{ s *still }

func (d *frozen) see(r *convert.Result) (string, bool) {
	if !d.s.take(r) {
		return "", false
	}
	return d.s.longer(frozenFor, frozenTime)
}

func (*frozen) finding() (convert.Cause, string) {
	return convert.ValueFrozen, "the digitizer repeats itself: restart it, check camera, float and cable"
}
