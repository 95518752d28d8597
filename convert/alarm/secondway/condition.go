package secondway

import "time"

// unread is the condition before the first reading of a run: as unknown as can be, but no reading has said so.
const unread Condition = -1

// conditions gives the row of the condition: in each column what the latest reading of this run said.
func conditions(cols []column) []Condition {
	row := make([]Condition, len(cols))
	for i := range cols {
		k := i
		for cols[k].Kind != Reading && cols[k].Kind != Restart {
			k--
		}
		row[i] = cols[k].Condition
		if cols[k].Kind == Restart {
			row[i] = unread
		}
	}
	return row
}

// presentFor gives for how long the condition has been present up to column i, since it was last seen absent.
//
// "On-delay: must stay beyond the limit for the whole delay" (OPC 10000-9, 5.8). What an unknown stretch means for it is
// left open there. Choice: it adds nothing, and takes nothing away, for otherwise one bad reading in each delay would
// keep an alarm from ever coming.
func presentFor(cols []column, cond []Condition, i int) (sum time.Duration) {
	if cond[i] == Absent {
		return 0
	}
	for k := i - 1; k >= 0 && cond[k] != Absent; k-- {
		if cond[k] == Present {
			sum += cols[k+1].At - cols[k].At
		}
	}
	return sum
}

// absentFor gives for how long the condition has been absent up to column i without a break.
//
// "Off-delay: must stay back inside for the whole delay" (OPC 10000-9, 5.8). An unavailable value must never be read as
// back to normal (alarm analysis, common practice), so an unknown stretch breaks it, and none of the time before the
// first reading of a run is counted. Choice: a restart itself does not break it; what is left of a delay survives.
func absentFor(cols []column, cond []Condition, i int) (sum time.Duration) {
	if cond[i] == Absent || cond[i] == unread {
		for k := i - 1; k >= 0 && (cond[k] == Absent || cond[k] == unread); k-- {
			if cond[k] == Absent {
				sum += cols[k+1].At - cols[k].At
			}
		}
	}
	return sum
}

// actives gives the row of the first memory: the alarm is active.
//
// It is set when the condition has been present for the whole on-delay, and cleared by a reading (time alone clears
// nothing) that shows it absent for the whole off-delay. (IEC 62682, transitions A-B, B-D, C-A.) It goes on whether the
// alarm is shelved, suppressed or out of service: those hide it and disable nothing.
func actives(cols []column, cond []Condition, r Rules) []bool {
	row := make([]bool, len(cols))
	for i := 1; i < len(cols); i++ {
		switch {
		case cols[i].looks() && cond[i] == Present && presentFor(cols, cond, i) >= r.OnDelay:
			row[i] = true
		case cols[i].Kind == Reading && cond[i] == Absent && absentFor(cols, cond, i) >= r.OffDelay:
			row[i] = false
		default:
			row[i] = row[i-1]
		}
	}
	return row
}
