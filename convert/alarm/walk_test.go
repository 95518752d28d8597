package alarm

import (
	"math/rand/v2"
	"testing"
	"time"
)

// watcher works out from the inputs what must hold.
type watcher struct {
	presentFor, absentFor time.Duration // without a break; unknown time is not added to the first and breaks the second
	last                  Condition
	shelvedLeft           time.Duration
	ackedUpTo             uint64
}

func (w *watcher) pass(dt time.Duration) {
	w.shelvedLeft = max(w.shelvedLeft-dt, 0)
}

func (w *watcher) condition(dt time.Duration, c Condition) {
	switch {
	case c != Absent && w.last == Present:
		w.presentFor += dt
	case c == Absent && w.last == Absent:
		w.absentFor += dt
	}
	if c == Absent {
		w.presentFor = 0
	}
	if c != Absent {
		w.absentFor = 0
	}
	w.last = c
}

// walk makes random inputs and requests and holds the alarm to what must be.
func walk(t *testing.T, seed uint64, steps int, latch bool) {
	t.Helper()
	rnd := rand.New(rand.NewPCG(seed, 1))
	b := newBench(t, latch)
	w := watcher{last: Absent}
	group := NewGroup(nil)
	var first []string
	since := b.now // of the last evaluation
	for i := range steps {
		dt := time.Duration(rnd.IntN(2500)) * time.Millisecond
		b.now += dt
		w.pass(dt)
		before, n := b.a.Memory(), len(b.heard)
		evaluated := false
		switch k := rnd.IntN(20); {
		case k < 12:
			c := Condition(rnd.IntN(3))
			if rnd.IntN(3) > 0 && w.last != Unknown {
				c = w.last // conditions tend to last
			}
			w.condition(b.now-since, c)
			since, evaluated = b.now, true
			b.see(b.a.Evaluate(b.now, c), nil)
		case k == 12:
			if ts, err := b.a.Acknowledge(b.now, 0); err == nil {
				w.ackedUpTo = b.a.Memory().Occurrence
				b.see(ts, nil)
			} else {
				b.see(ts, err)
			}
		case k == 13:
			b.do("reset")
		case k == 14:
			d := time.Duration(1+rnd.IntN(4000)) * time.Second
			ts, err := b.a.Shelve(b.now, d, rnd.IntN(2) == 0)
			if err == nil {
				w.shelvedLeft = d
			} else if d <= time.Hour {
				t.Fatalf("seed %d step %d: shelving for %v was refused: %v", seed, i, d, err)
			}
			b.see(ts, err)
		case k == 15:
			ts, err := b.a.Unshelve(b.now)
			w.shelvedLeft = 0
			b.see(ts, err)
		case k == 16:
			b.see(b.a.Suppress(b.now, rnd.IntN(2) == 0), nil)
		case k == 17:
			b.do([]string{"out", "back"}[rnd.IntN(2)])
		default:
			b.see(b.a.Tick(b.now), nil)
			if w.last == Present {
				w.condition(b.now-since, Present)
				since = b.now
			}
		}
		m := b.a.Memory()
		switch {
		case m.Active && !before.Active && w.presentFor < b.a.o.OnDelay:
			t.Fatalf("seed %d step %d: active after %v, before the on-delay", seed, i, w.presentFor)
		case !m.Active && before.Active && (!evaluated || w.last != Absent || w.absentFor < b.a.o.OffDelay):
			t.Fatalf("seed %d step %d: cleared by %v after %v of absence", seed, i, w.last, w.absentFor)
		case evaluated && w.last == Present && w.presentFor >= b.a.o.OnDelay && !m.Active:
			t.Fatalf("seed %d step %d: not active after %v of the condition", seed, i, w.presentFor)
		case evaluated && w.last == Absent && w.absentFor >= b.a.o.OffDelay && m.Active:
			t.Fatalf("seed %d step %d: still active after %v without the condition", seed, i, w.absentFor)
		case m.ShelvedLeft > 0 && w.shelvedLeft == 0:
			t.Fatalf("seed %d step %d: shelved for longer than was asked", seed, i)
		case m.Active && !m.Unacknowledged && m.Occurrence > w.ackedUpTo:
			t.Fatalf("seed %d step %d: occurrence %d counts as acknowledged, only %d was", seed, i, m.Occurrence, w.ackedUpTo)
		case latch && before.Latched && !m.Latched && (m.Active || len(b.heard) == n || b.heard[len(b.heard)-1].Cause != ByReset):
			t.Fatalf("seed %d step %d: the latch went without a reset", seed, i)
		}
		marked := group.First()
		group.Cycle(b.heard[n:], []*Alarm{b.a})
		if first = group.First(); len(marked) > 0 && len(first) > 0 && marked[0] != first[0] {
			t.Fatalf("seed %d step %d: the mark of the first moved", seed, i)
		}
	}
	b.chained()
}
