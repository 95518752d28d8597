package ingest

import (
	"bytes"
	"cmp"
	"maps"
	"slices"
	"time"

	"manobridge/convert"
	"manobridge/ingest/frame"
)

// summaryEvery is how often a trouble that goes on is counted.
const summaryEvery = time.Minute

// quiet is how long a trouble must stay away before it counts as over, so that one that comes and goes is not told
// each time.
const quiet = 10 * time.Second

// teller keeps a trouble from being told more than it helps: once, then as a count, then its end.
type teller struct {
	troubles  map[troubleKey]*trouble
	more      func(troubleKey, *trouble)
	recovered func(troubleKey, *trouble)
}

// troubleKey is one cause at one instrument; no instrument for what belongs to none.
type troubleKey struct {
	instrument string
	code       convert.Cause
}

// trouble is one that has been told of.
type trouble struct {
	since, latest time.Duration
	toldAt        time.Duration
	untold        uint64 // since toldAt
	total         uint64
	goodAt        time.Duration // latest good frame of the instrument since; zero if none

	refusal *convert.Refusal // the latest
	frame   []byte
	at      frame.Stamp
}

func newTeller(more, recovered func(troubleKey, *trouble)) *teller {
	return &teller{troubles: make(map[troubleKey]*trouble), more: more, recovered: recovered}
}

// refused notes a refusal and tells whether it is to be told now.
func (t *teller) refused(key troubleKey, refusal *convert.Refusal, f *frame.Frame) (tell bool) {
	now := f.At.Mono
	tr, known := t.troubles[key]
	if !known {
		tr = &trouble{since: now, toldAt: now}
		t.troubles[key] = tr
	} else {
		tr.untold++
	}
	tr.latest, tr.refusal, tr.at = now, refusal, f.At
	tr.frame = bytes.Clone(f.Raw)
	tr.total++
	return !known
}

// good notes a good frame of the instrument.
func (t *teller) good(instrument string, at time.Duration) {
	if len(t.troubles) == 0 {
		return
	}
	for key, tr := range t.troubles {
		if key.instrument == instrument {
			tr.goodAt = at
		}
	}
}

// next is when look has something to do.
func (t *teller) next() (at time.Duration, due bool) {
	for key, tr := range t.troubles {
		when, ok := tr.due(key)
		if ok && (!due || when < at) {
			at, due = when, true
		}
	}
	return at, due
}

// due is when there is something to tell of the trouble.
func (tr *trouble) due(key troubleKey) (at time.Duration, ok bool) {
	if tr.over(key) {
		return tr.latest + quiet, true
	}
	return tr.toldAt + summaryEvery, tr.untold > 0
}

// over tells whether the trouble ends if it stays away: a good frame came after it, or it concerns no instrument.
func (tr *trouble) over(key troubleKey) bool { return key.instrument == "" || tr.goodAt > tr.latest }

// look tells what is due: counts and ends.
func (t *teller) look(now time.Duration) {
	for _, key := range t.inOrder() {
		tr := t.troubles[key]
		if tr.untold > 0 && now >= tr.toldAt+summaryEvery {
			t.more(key, tr)
			tr.toldAt, tr.untold = now, 0
		}
		if tr.over(key) && now >= tr.latest+quiet {
			if tr.untold > 0 {
				t.more(key, tr)
			}
			t.recovered(key, tr)
			delete(t.troubles, key)
		}
	}
}

// flush tells what has not been told.
func (t *teller) flush(now time.Duration) {
	for _, key := range t.inOrder() {
		tr := t.troubles[key]
		if tr.untold > 0 {
			t.more(key, tr)
			tr.toldAt, tr.untold = now, 0
		}
	}
}

// inOrder gives the troubles in one order always, so that what is told of one moment reads the same each time.
func (t *teller) inOrder() []troubleKey {
	return slices.SortedFunc(maps.Keys(t.troubles), func(a, b troubleKey) int {
		return cmp.Or(cmp.Compare(a.instrument, b.instrument), cmp.Compare(a.code, b.code))
	})
}
