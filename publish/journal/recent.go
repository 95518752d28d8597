package journal

import (
	"sync"

	"manobridge/convert"
	"manobridge/publish"
)

// recentRows is how many rows are kept in memory after they have become durable, so that what is delivered at once need not be
// read back from the file: that costs more than writing it did. Some 900 kB.
const recentRows = 1024

// recent holds the newest durable rows, without a hole between them. Its methods are safe for concurrent use.
type recent struct {
	mu   sync.Mutex
	rows [recentRows]publish.Row // that with ID n at n mod recentRows
	from int64                   // ID of the oldest; 0 where there is none
	last int64
}

// asRead is a row as the file gives it back: Rows says what is not in it.
func asRead(id, ns int64, r *convert.Result) publish.Row {
	row := publish.Row{ID: id, Result: *r}
	row.ReceivedAt = unixTime(ns)
	row.Contributions = [convert.MaxInputs]float64{}
	row.HighSignal, row.LowSignal, row.Camera = convert.Optional[float64]{}, convert.Optional[float64]{}, nil
	if r.Average == nil {
		row.HighExtra, row.LowExtra = convert.Extra{}, convert.Extra{}
	}
	return row
}

// add takes rows that have become durable.
func (c *recent) add(rows []publish.Row) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for i := range rows {
		row := &rows[i]
		if row.ID != c.last+1 || c.from == 0 {
			c.from = row.ID
		}
		c.rows[row.ID%recentRows], c.last = *row, row.ID
		c.from = max(c.from, row.ID-recentRows+1)
	}
}

// after gives up to limit rows with ID > after, none where they are not all here.
func (c *recent) after(after int64, limit int) []publish.Row {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.from == 0 || after < c.from-1 || after >= c.last {
		return nil
	}
	out := make([]publish.Row, 0, min(int64(limit), c.last-after))
	for id := after + 1; id <= c.last && len(out) < limit; id++ {
		out = append(out, c.rows[id%recentRows])
	}
	return out
}
