package journal

import (
	"slices"
	"sync"
	"time"

	"manobridge/publish"
)

// What has become durable stays in memory for a while, as the columns that were written, so that what is delivered soon need
// not be read back from the file: that costs more than writing it did.
const (
	recentBytes = 8 << 20
	recentAge   = 5 * time.Second
)

// block is rows without a hole between them, as whole gathers them, and the averages among them.
type block struct {
	first, last int64
	at          time.Time
	rows        []byte
	averages    map[int64]averageRow
}

// add takes the row that was written last.
func (b *block) add(s *state) {
	if len(b.rows) == 0 || s.lastID != b.last+1 {
		b.first, b.rows, b.averages = s.lastID, b.rows[:0], nil
	}
	b.last = s.lastID
	b.rows = append(b.rows, s.written...)
	if a := s.average; a != nil {
		if b.averages == nil {
			b.averages = map[int64]averageRow{}
		}
		b.averages[s.lastID] = *a
	}
}

// from gives the rows after one, at most so many.
func (b *block) from(after int64, limit int) []byte {
	skip, take := max(0, after+1-b.first), int64(limit)
	if skip == 0 && b.last-b.first < take {
		return b.rows
	}
	k, begin, end := int64(0), 0, 0
	for row := range wholeRows(b.rows) {
		if k == skip+take {
			break
		}
		if end += rowHead + len(row); k < skip {
			begin = end
		}
		k++
	}
	return b.rows[begin:end]
}

// recent holds the newest durable rows, without a hole between them. Its methods are safe for concurrent use.
type recent struct {
	mu     sync.Mutex
	blocks []block
	bytes  int
}

// add takes a copy of rows that have become durable, and forgets old ones.
func (c *recent) add(b block) {
	if len(b.rows) == 0 {
		return
	}
	b.rows = slices.Clone(b.rows)
	c.mu.Lock()
	defer c.mu.Unlock()
	if n := len(c.blocks); n > 0 && c.blocks[n-1].last+1 != b.first {
		c.blocks, c.bytes = nil, 0
	}
	old := 0
	for old < len(c.blocks) && (c.bytes+len(b.rows) > recentBytes || b.at.Sub(c.blocks[old].at) > recentAge) {
		c.bytes -= len(c.blocks[old].rows)
		c.blocks[old] = block{}
		old++
	}
	c.blocks, c.bytes = append(c.blocks[old:], b), c.bytes+len(b.rows)
}

// forget drops every block that begins with a row up to one: they are gone from the file, or some of them.
func (c *recent) forget(until int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	n := 0
	for ; n < len(c.blocks) && c.blocks[n].first <= until; n++ {
		c.bytes -= len(c.blocks[n].rows)
	}
	c.blocks = slices.Delete(c.blocks, 0, n)
}

// after gives up to limit rows with ID > after in pieces, none where they are not all here.
func (c *recent) after(after int64, limit int) (pieces [][]byte, averages map[int64]averageRow) {
	c.mu.Lock()
	defer c.mu.Unlock()
	at, _ := slices.BinarySearchFunc(c.blocks, after+1, func(b block, id int64) int { return int(b.last - id) })
	if at == len(c.blocks) || c.blocks[at].first > after+1 {
		return nil, nil
	}
	for ; at < len(c.blocks) && limit > 0; at++ {
		b := &c.blocks[at]
		pieces = append(pieces, b.from(after, limit))
		limit -= int(b.last - max(after, b.first-1))
		for id, a := range b.averages {
			if averages == nil {
				averages = map[int64]averageRow{}
			}
			averages[id] = a
		}
	}
	return pieces, averages
}

// recentRows is Rows for what is in memory, none where it is not all there or cannot be read.
func (j *Journal) recentRows(after int64, limit int) []publish.Row {
	pieces, averages := j.w.recent.after(after, limit)
	if len(pieces) == 0 {
		return nil
	}
	rows, bad := j.decoded(pieces)
	if bad != nil || withAverages(rows, averages) != nil {
		return nil
	}
	return rows
}
