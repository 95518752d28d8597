package secondway

import "time"

// accepted tells whether a request to shelve is one that may be made.
//
// A maximum shelving time caps both kinds; one that asks for more is refused, as is one for no time at all
// (OPC 10000-9, 5.8, ShelvingTimeOutOfRange). A single shot need not name a time: it then has the cap.
func accepted(e Entry, r Rules) bool {
	if e.Kind != Shelve || r.ShelveCap == 0 || e.For < 0 || e.For > r.ShelveCap {
		return false
	}
	return e.For > 0 || e.OneShot
}

// shelf gives, for column i, what is left of the shelving, and whether it is the one-shot kind; 0 while not shelved.
//
// State G: by a person, for a limited time, and it returns by itself. Monotonic time rules it, and a restart keeps what
// is left. The latest request counts, from its own moment. One shot lasts until the alarm next goes inactive
// (OPC 10000-9, 5.8).
func shelf(cols []column, active []bool, r Rules, i int) (left time.Duration, oneShot bool) {
	k := i
	for ; k > 0; k-- {
		if cols[k].Kind == Unshelve {
			return 0, false
		}
		if accepted(cols[k].Entry, r) {
			break
		}
	}
	if k == 0 {
		return 0, false
	}
	length := cols[k].For
	if length == 0 {
		length = r.ShelveCap
	}
	if left = cols[k].At + length - cols[i].At; left <= 0 {
		return 0, false
	}
	for n := k + 1; cols[k].OneShot && n <= i; n++ {
		if active[n-1] && !active[n] {
			return 0, false
		}
	}
	return left, cols[k].OneShot
}

// last gives what the latest request of a kind said: on or off. Suppression by design follows the logic of the plant
// (state H), service is maintenance's (state I); both last until they are taken back.
func last(cols []column, kind Kind, i int) bool {
	for ; i > 0; i-- {
		if cols[i].Kind == kind {
			return cols[i].On
		}
	}
	return false
}
