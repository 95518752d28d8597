package secondway

import "time"

// chart is the timing chart of one alarm: a row for each memory, a column for each moment.
type chart struct {
	rules  Rules
	cols   []column
	cond   []Condition
	active []bool
	hidden []bool // shelved, suppressed by design or out of service
	unack  []bool
	latch  []bool
	comes  []bool // a new occurrence: the alarm comes, or comes again
	calls  []bool // a person is called
	done   []bool // the request of this column was one that could be done
	seen   []int  // the column of the latest occurrence or acknowledgement
}

func draw(r Rules, h History, scanned bool) *chart {
	c := &chart{rules: r, cols: h.columns(scanned)}
	n := len(c.cols)
	c.cond = conditions(c.cols)
	c.active = actives(c.cols, c.cond, r)
	c.hidden = make([]bool, n)
	for i := 1; i < n; i++ {
		left, _ := shelf(c.cols, c.active, r, i)
		c.hidden[i] = left > 0 || last(c.cols, Suppress, i) || last(c.cols, Service, i)
	}
	c.unack, c.latch = make([]bool, n), make([]bool, n)
	c.comes, c.calls, c.done = make([]bool, n), make([]bool, n), make([]bool, n)
	c.seen = make([]int, n)
	for i := 1; i < n; i++ {
		c.remember(i)
		c.calls[i] = c.comes[i] && !c.hidden[i] // only new annunciations call a person; not returns, requests, diagnostics
	}
	return c
}

// remember works out the second memory, whether a person has seen the alarm, and the latch.
func (c *chart) remember(i int) {
	before := i - 1
	came := c.active[i] && !c.active[before]
	went := !c.active[i] && c.active[before]
	c.unack[i], c.latch[i], c.seen[i] = c.unack[before], c.latch[before], c.seen[before]
	c.done[i] = c.possible(i)
	switch kind := c.cols[i].Kind; {
	case came || c.again(i) || c.back(i): // A, C, D, E or F to B
		c.comes[i], c.unack[i], c.seen[i] = true, true, i
	case went && c.rules.Latch: // B to E, C to F
		c.latch[i] = true
	case went && c.rules.AcknowledgeOnReturn: // B to A, "a documented choice per class"
		c.unack[i] = false
	case kind == Acknowledge && c.done[i]: // B to C, D to A, E to F
		c.unack[i], c.seen[i] = false, i
	case kind == Reset && c.done[i]: // F to A
		c.latch[i] = false
	}
}

// again tells whether the alarm comes again in column i: "re-alarm time makes a long-active alarm unacknowledged again, as
// if new" (OPC 10000-9, 5.8), out of state C alone.
//
// Choices: the time counts from the acknowledgement, and goes on while the condition is unknown. The state is held then,
// and an alarm that is held active has been active for long as much as another.
func (c *chart) again(i int) bool {
	return c.cols[i].runs() && c.rules.ReAlarm > 0 && c.active[i] && c.active[i-1] && !c.unack[i-1] && c.stood(i) >= c.rules.ReAlarm
}

// stood gives the time since the latest occurrence or acknowledgement before column i.
func (c *chart) stood(i int) time.Duration { return c.cols[i].At - c.cols[c.seen[i-1]].At }

// back tells whether an active alarm comes out of hiding in column i.
//
// Choice: it then is a new occurrence, acknowledged before or not. (ISA-18.2, G, H and I lead to A or B, from memory.)
func (c *chart) back(i int) bool {
	return c.active[i] && c.hidden[i-1] && !c.hidden[i]
}

// possible tells whether the request of column i could be done, by how the alarm stood just before.
func (c *chart) possible(i int) bool {
	e, before := c.cols[i].Entry, i-1
	switch e.Kind {
	case Acknowledge: // on what existed before the press, not on what comes in its moment or is not the one that was named
		return c.unack[before] && !c.comes[before] && (e.Occurrence == 0 || e.Occurrence == c.occurrence(before))
	case Reset: // F to A; "reset while the condition is present does nothing". Choice: an unknown one stops nobody
		return c.latch[before] && !c.active[before] && !c.unack[before] && c.cond[before] != Present
	case Shelve:
		return accepted(e, c.rules)
	case Unshelve:
		left, _ := shelf(c.cols, c.active, c.rules, before)
		return left > 0
	case Service: // what is so already is refused (common practice, no source)
		return last(c.cols, Service, before) != e.On
	}
	return true
}

// occurrence counts how often the alarm came up to column i.
func (c *chart) occurrence(i int) (n uint64) {
	for k := 1; k <= i; k++ {
		if c.comes[k] {
			n++
		}
	}
	return n
}

// pending gives how long the condition has held against the first memory.
func (c *chart) pending(i int) time.Duration {
	if c.active[i] {
		return absentFor(c.cols, c.cond, i)
	}
	return presentFor(c.cols, c.cond, i)
}
