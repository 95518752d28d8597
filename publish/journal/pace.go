package journal

import (
	"slices"
	"time"
)

// pace spaces commits where results come often: each commit is a flush of the disk and wakes whoever delivers, and one for
// several results costs little more than one for one. Where they come seldom, or in heaps, each is committed at once.
type pace struct {
	began   time.Time // of the last commit
	counted time.Time // since when rows is counted
	rows    int
	often   bool
}

const (
	// oftenAbove is how many results a second are often.
	oftenAbove = 200
	// spacing is how far apart commits then begin; a result waits that long at most.
	spacing = 20 * time.Millisecond
	// heap is how many results need not wait for more.
	heap = 50
)

// begin notes a commit of so many results.
func (p *pace) begin(now time.Time, results int) {
	p.began = now
	p.rows += results
	if over := now.Sub(p.counted); over >= time.Second {
		p.often = float64(p.rows) > oftenAbove*over.Seconds()
		p.counted, p.rows = now, 0
	}
}

// rest gives how long to wait with so many results.
func (p *pace) rest(now time.Time, waiting int) time.Duration {
	if !p.often || waiting >= heap {
		return 0
	}
	return spacing - now.Sub(p.began)
}

// rest waits until the next commit may begin.
func (w *writer) rest() {
	for {
		w.mu.Lock()
		d := w.pace.rest(time.Now(), w.waiting)
		w.resting = d > 0 && len(w.queue) > 0 && !slices.ContainsFunc(w.queue, func(o *op) bool { return !o.mayWait() })
		resting := w.resting
		w.mu.Unlock()
		if !resting {
			return
		}
		select {
		case <-time.After(d):
		case <-w.wake:
		case <-w.quit:
			return
		}
	}
}
