package journal

import (
	"context"
	"database/sql"
	"time"
)

// Excursion is the account of one time that a limit was passed. JSON holds what was computed of it; the journal does not
// look inside.
type Excursion struct {
	ID    int64 // given by AddExcursion
	Limit string
	Start time.Time
	End   time.Time // zero: still going on
	JSON  string
}

// AddExcursion makes it durable and gives its number.
func (j *Journal) AddExcursion(ctx context.Context, e Excursion) (id int64, err error) {
	err = j.do(ctx, func(w *writer) error {
		var err error
		id, err = inserted(w.conn.ExecContext(context.Background(), "INSERT INTO excursion (lim, start_ns, end_ns, json) VALUES (?,?,?,?)",
			e.Limit, e.Start.UnixNano(), timeOrNull(e.End), e.JSON))
		return err
	})
	return id, err
}

// UpdateExcursion writes the account of that number anew.
func (j *Journal) UpdateExcursion(ctx context.Context, e Excursion) error {
	return j.do(ctx, func(w *writer) error {
		_, err := w.conn.ExecContext(context.Background(), "UPDATE excursion SET lim = ?, start_ns = ?, end_ns = ?, json = ? WHERE id = ?",
			e.Limit, e.Start.UnixNano(), timeOrNull(e.End), e.JSON, e.ID)
		return err
	})
}

// Excursions gives those of a limit that had not ended before since, the oldest first; of all limits where the name is
// empty.
func (r *Reader) Excursions(ctx context.Context, limit string, since time.Time) ([]Excursion, error) {
	if r.layout < 2 {
		return nil, nil
	}
	var from int64
	if !since.IsZero() {
		from = since.UnixNano()
	}
	return collect(ctx, r.db, func(rows *sql.Rows, e *Excursion) error {
		var start int64
		var end sql.NullInt64
		err := rows.Scan(&e.ID, &e.Limit, &start, &end, &e.JSON)
		e.Start = unixTime(start)
		if end.Valid {
			e.End = unixTime(end.Int64)
		}
		return err
	}, `SELECT id, lim, start_ns, end_ns, json FROM excursion
		WHERE (?1 = '' OR lim = ?1) AND (end_ns IS NULL OR end_ns >= ?2) ORDER BY id`, limit, from)
}

func timeOrNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixNano()
}
