package screen

import (
	"math"
	"time"
)

// trendMarks is how many marks a trend has.
const trendMarks = 7

// levels are the heights of a mark, one eighth of a line to the next.
var levels = []rune("▁▂▃▄▅▆▇█")

// trend keeps the mean pressure of the last few steps of time.
type trend struct {
	step  time.Duration
	sum   [trendMarks]float64
	count [trendMarks]int
	last  int64 // the step the last slot stands for
	u     float64
}

// slot turns the ring so that the last slot stands for the moment.
func (t *trend) slot(at time.Duration) {
	now := int64(at / t.step)
	for ; t.last < now; t.last++ {
		if now-t.last > trendMarks {
			t.last = now - trendMarks // everything turns out anyway
		}
		copy(t.sum[:], t.sum[1:])
		copy(t.count[:], t.count[1:])
		t.sum[trendMarks-1], t.count[trendMarks-1] = 0, 0
	}
}

func (t *trend) add(pressure, u float64, at time.Duration) {
	t.slot(at)
	if math.IsNaN(pressure) || math.IsNaN(u) {
		return
	}
	t.sum[trendMarks-1] += pressure
	t.count[trendMarks-1]++
	t.u = u
}

// marks draws the trend, the oldest step first; a step without a value is a blank. The full height is the span of the
// values shown, but never less than four times the expanded uncertainty: what may be nothing must not look like something.
func (t *trend) marks(at time.Duration) string {
	t.slot(at)
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, n := range t.count {
		if n > 0 {
			mean := t.sum[i] / float64(n)
			lo, hi = min(lo, mean), max(hi, mean)
		}
	}
	if least := 4 * t.u; hi-lo < least {
		middle := (lo + hi) / 2
		lo, hi = middle-least/2, middle+least/2
	}
	marks := make([]rune, trendMarks)
	for i, n := range t.count {
		marks[i] = ' '
		if n == 0 {
			continue
		}
		level := len(levels) / 2
		if hi > lo {
			level = int((t.sum[i]/float64(n) - lo) / (hi - lo) * float64(len(levels)))
		}
		marks[i] = levels[max(0, min(level, len(levels)-1))]
	}
	return string(marks)
}
