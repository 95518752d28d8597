package secondway

import "time"

// Step is the time between two scans of the chart. Times and delays are whole multiples of it.
const Step = time.Second

// Condition is whether what an alarm is for is there.
type Condition int

// The three. A reading that cannot be believed is Unknown, and so is the time before the first one.
const (
	Unknown Condition = iota
	Absent
	Present
)

// Rules say how one alarm behaves. A zero means that there is no such rule.
type Rules struct {
	OnDelay, OffDelay   time.Duration
	Latch               bool
	AcknowledgeOnReturn bool
	ReAlarm             time.Duration
	ShelveCap           time.Duration
}

// Kind is what sort of entry one is.
type Kind int

// The kinds of entry.
const (
	Look        Kind = iota // time has come this far
	Reading                 // Condition
	Acknowledge             // Occurrence, or 0 for whatever is there
	Reset
	Shelve // For, and OneShot
	Unshelve
	Suppress // On
	Service  // On: out of service
	Restart
)

// Entry is one line of the history.
type Entry struct {
	At         time.Duration
	Kind       Kind
	Condition  Condition
	Occurrence uint64
	For        time.Duration
	OneShot    bool
	On         bool
}

// History is what came, in order. No entry is earlier than the one before it.
type History []Entry

// column is one column of the chart: an entry, or a scan between two, or what falls due in the moment of an entry.
type column struct{ Entry }

// falling is the kind of the column in front of every entry, where what time alone brings takes effect: the end of
// shelving, and the alarm that comes again. Choice: that is before whatever else its moment brings.
const falling Kind = -1

// runs tells the columns in which time alone has an effect, looks those in which a delay can have run out. Requests are
// none of these: what a person asks is about what was there before.
func (c column) runs() bool  { return c.Kind == falling || c.Kind == Look }
func (c column) looks() bool { return c.Kind == Look || c.Kind == Reading }

// columns draws the columns of a history. Where it is scanned, there is a scan in every step of time between two entries,
// the moment of the earlier one included. Where it is not, nobody looked in between. Choice: nothing then happened but at
// the entries, and what fell due before takes effect in the next of them, by what holds there. A run ends with a last look.
func (h History) columns(scanned bool) []column {
	all := []column{{Entry{Kind: Restart}}} // before everything
	for _, e := range h {
		for t := all[len(all)-1].At; scanned && t < e.At; t += Step {
			all = append(all, column{Entry{At: t, Kind: Look}})
		}
		all = append(all, column{Entry{At: e.At, Kind: falling}})
		if e.Kind == Restart {
			all = append(all, column{Entry{At: e.At, Kind: Look}})
		}
		all = append(all, column{e})
	}
	return all
}
