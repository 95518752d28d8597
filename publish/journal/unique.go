package journal

import "time"

// crowd is how close before the latest time of an instrument a reading counts as one of a crowd that came in one read, in
// ns, and takes the next free time after it. It bounds how far a time is moved: 100 µs, less than a clock is set by.
const crowd = 100_000

// A piece of the past that is looked up at once, in ns: a minute on from the reading that asked, and a few seconds back
// for readings that came a little out of order.
const (
	livedOn   = int64(time.Minute)
	livedBack = int64(5 * time.Second)
)

// lived is a piece of the past that is being lived again because the clock was set back: which times have a reading. To
// search the file for each reading anew would take the longer the more often the same time is lived.
type lived struct {
	from, until int64 // ns
	taken       map[takenAt]bool
}

type takenAt struct{ instrument, ns int64 }

func (l *lived) covers(ns int64) bool { return ns >= l.from && ns < l.until }

func (l *lived) add(instrument, ns int64) {
	if l.covers(ns) {
		l.taken[takenAt{instrument, ns}] = true
	}
}

// unique gives the time under which a reading is kept: its own, or the next nanosecond that the instrument has no
// other reading at. A time-series store keeps one value for each instrument and time, so a tie, or a clock that was
// set back, would overwrite.
func (s *state) unique(st *stream, ns int64) (int64, error) {
	if ns > s.maxNS[st.instrument] {
		return ns, nil
	}
	if latest := s.maxNS[st.instrument]; latest-ns < crowd {
		return latest + 1, nil
	}
	for ; ; ns++ { // the clock was set back, and the past is being lived again
		if !s.lived.covers(ns) {
			if err := s.relive(ns); err != nil {
				return 0, err
			}
		}
		if !s.lived.taken[takenAt{st.instrument, ns}] {
			return ns, nil
		}
	}
}

// relive looks up the piece of the past around ns.
func (s *state) relive(ns int64) error {
	l := lived{from: ns - livedBack, until: ns + livedOn, taken: map[takenAt]bool{}}
	rows, err := s.selTaken.Query(l.from, l.until, s.span.first)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var at takenAt
		if err := rows.Scan(&at.instrument, &at.ns); err != nil {
			return err
		}
		l.taken[at] = true
	}
	if err := rows.Err(); err != nil {
		return err
	}
	s.lived = l
	return nil
}
