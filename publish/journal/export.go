package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"math"
	"time"

	"manobridge/publish"
)

// Query chooses rows. The zero Query chooses all.
type Query struct {
	Instruments []string  // none: all
	Since       time.Time // zero: from the first
	Until       time.Time // zero: to the last; exclusive
}

// exportBatch bounds what one read transaction holds, so that a long export never keeps the log from being folded in.
const exportBatch = 1000

// maxRow is past every number a row can have.
const maxRow = math.MaxInt64

// Export gives the rows of a query in the order they were received. Rows that arrive meanwhile may be in it. A
// row that cannot be read back is an *UndecodableRow, and the sequence goes on; it ends after any other error.
func (r *Reader) Export(ctx context.Context, q Query) iter.Seq2[publish.Row, error] {
	return func(yield func(publish.Row, error) bool) {
		since, until := int64(math.MinInt64), int64(math.MaxInt64)
		if !q.Since.IsZero() {
			since = q.Since.UnixNano()
		}
		if !q.Until.IsZero() {
			until = q.Until.UnixNano() - 1
		}
		wanted := map[string]bool{}
		for _, name := range q.Instruments {
			wanted[name] = true
		}
		spans, err := r.spans(ctx, since, until)
		if err != nil {
			yield(publish.Row{}, err)
			return
		}
		for _, s := range spans {
			for after := s.From; after < s.Until; {
				rows, err := r.between(ctx, after, s.Until, exportBatch)
				var bad *UndecodableRow
				if err != nil && !errors.As(err, &bad) {
					yield(publish.Row{}, err)
					return
				}
				if len(rows) == 0 && bad == nil {
					break
				}
				for i := range rows {
					after = rows[i].ID
					ns := rows[i].ReceivedAt.UnixNano()
					if ns < since || ns > until || len(wanted) > 0 && !wanted[rows[i].Instrument] {
						continue
					}
					if !yield(rows[i], nil) {
						return
					}
				}
				if bad != nil {
					after = bad.ID
					if !yield(publish.Row{ID: bad.ID}, bad) {
						return
					}
				}
			}
		}
	}
}

// spans gives the ranges of rows that may hold times from since to until, the open one included.
func (r *Reader) spans(ctx context.Context, since, until int64) ([]publish.Range, error) {
	var out []publish.Range
	add := func(from, to int64) {
		if n := len(out); n > 0 && out[n-1].Until == from {
			out[n-1].Until = to
			return
		}
		out = append(out, publish.Range{From: from, Until: to})
	}
	err := each(ctx, r.db, func(rows *sql.Rows) error {
		var first, last int64
		err := rows.Scan(&first, &last)
		add(first-1, last)
		return err
	}, "SELECT first_id, last_id FROM span WHERE max_ns >= ? AND min_ns <= ? ORDER BY first_id", since, until)
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	var closed int64
	if err := r.db.QueryRowContext(ctx, "SELECT coalesce(max(last_id), 0) FROM span").Scan(&closed); err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	add(closed, math.MaxInt64)
	return out, nil
}
