package publishtest

import (
	"context"
	"maps"
	"slices"
	"sync"

	"manobridge/convert"
	"manobridge/publish"
)

// Rows is a journal in memory that fails on command. What it says it has kept outlives the Outbox, not the program.
type Rows struct {
	mu         sync.Mutex
	rows       []publish.Row
	last       int64
	more       chan struct{}
	cursors    map[string]publish.Cursor
	saves      int
	quarantine map[string]map[int64]string
	fail       func(op string) error
}

// NewRows makes an empty one.
func NewRows() *Rows {
	return &Rows{more: make(chan struct{}), cursors: map[string]publish.Cursor{},
		quarantine: map[string]map[int64]string{}}
}

// Add makes results durable, in this order.
func (r *Rows) Add(results ...convert.Result) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, result := range results {
		r.last++
		r.rows = append(r.rows, publish.Row{ID: r.last, Result: result})
	}
	close(r.more)
	r.more = make(chan struct{})
}

// Skip leaves n numbers without a row, as pruning does.
func (r *Rows) Skip(n int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last += n
}

// Fail lets every later operation ask f first; op is "rows", "save", "cursor" or "quarantine". nil ends it.
func (r *Rows) Fail(f func(op string) error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.fail = f
}

func (r *Rows) asked(ctx context.Context, op string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if r.fail == nil {
		return nil
	}
	return r.fail(op)
}

// Last is that of publish.Rows.
func (r *Rows) Last() int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last
}

// Wait is that of publish.Rows.
func (r *Rows) Wait(ctx context.Context, after int64) error {
	for {
		r.mu.Lock()
		last, more := r.last, r.more
		r.mu.Unlock()
		if last > after {
			return ctx.Err()
		}
		select {
		case <-more:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Rows is that of publish.Rows.
func (r *Rows) Rows(ctx context.Context, after int64, limit int) ([]publish.Row, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.asked(ctx, "rows"); err != nil {
		return nil, err
	}
	from, _ := slices.BinarySearchFunc(r.rows, after+1, func(row publish.Row, id int64) int { return int(row.ID - id) })
	return slices.Clone(r.rows[from:min(len(r.rows), from+limit)]), nil
}

// Cursor is that of publish.Rows.
func (r *Rows) Cursor(ctx context.Context, sink string) (publish.Cursor, bool, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	c, ok := r.cursors[sink]
	return publish.Cursor{Live: c.Live, Late: slices.Clone(c.Late)}, ok, r.asked(ctx, "cursor")
}

// SaveCursor is that of publish.Rows.
func (r *Rows) SaveCursor(ctx context.Context, sink string, c publish.Cursor) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.asked(ctx, "save"); err != nil {
		return err
	}
	r.saves++
	r.cursors[sink] = publish.Cursor{Live: c.Live, Late: slices.Clone(c.Late)}
	return nil
}

// Saves tells how often a cursor was made durable.
func (r *Rows) Saves() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.saves
}

// Quarantine is that of publish.Rows.
func (r *Rows) Quarantine(ctx context.Context, sink string, row int64, reason string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.asked(ctx, "quarantine"); err != nil {
		return err
	}
	if r.quarantine[sink] == nil {
		r.quarantine[sink] = map[int64]string{}
	}
	r.quarantine[sink][row] = reason
	return nil
}

// Quarantined gives the reasons by row.
func (r *Rows) Quarantined(sink string) map[int64]string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return maps.Clone(r.quarantine[sink])
}

// All gives every row.
func (r *Rows) All() []publish.Row {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.rows)
}
