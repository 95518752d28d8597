package journal

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"time"
)

// Act is what a person did to the bridge: a zero taken, a limit acknowledged, an instrument put into service.
type Act struct {
	ID       int64 // given by AppendAct
	Time     time.Time
	Who      string
	What     string
	Subject  string
	Old, New string
	Why      string
	PrevHash []byte // Hash of the act before; the caller chains them
	Hash     []byte
}

// AppendAct adds an act that follows from the one before it, in one transaction, so that no other comes between. The
// zero Act stands before the first. It gives the act as it is kept. Acts are never changed or deleted, whoever opens the
// file: the database refuses.
func (j *Journal) AppendAct(ctx context.Context, next func(prev Act) Act) (Act, error) {
	var a Act
	err := j.do(ctx, func(w *writer) error {
		ctx := context.Background()
		prev, err := lastAct(ctx, w.conn)
		if err != nil {
			return err
		}
		a = next(prev)
		a.ID, err = inserted(w.conn.ExecContext(ctx, `INSERT INTO act (wall_ns, who, what, subject, old, new, why, prev_hash, hash)
			VALUES (?,?,?,?,?,?,?,?,?)`, a.Time.UnixNano(), a.Who, a.What, a.Subject, a.Old, a.New, a.Why, a.PrevHash, a.Hash))
		return err
	})
	if err != nil {
		return Act{}, err
	}
	return a, nil
}

const actColumns = "SELECT id, wall_ns, who, what, subject, old, new, why, prev_hash, hash FROM act "

func scanAct(rows *sql.Rows, a *Act) error {
	var at int64
	err := rows.Scan(&a.ID, &at, &a.Who, &a.What, &a.Subject, &a.Old, &a.New, &a.Why, &a.PrevHash, &a.Hash)
	a.Time = unixTime(at)
	return err
}

func lastAct(ctx context.Context, db querier) (a Act, err error) {
	err = each(ctx, db, func(rows *sql.Rows) error { return scanAct(rows, &a) }, actColumns+"ORDER BY id DESC LIMIT 1")
	return a, err
}

// LastAct gives the newest act, the zero Act where there is none.
func (r *Reader) LastAct(ctx context.Context) (Act, error) {
	if r.layout < 2 {
		return Act{}, nil
	}
	a, err := lastAct(ctx, r.db)
	if err != nil {
		return a, fmt.Errorf("read journal: %w", err)
	}
	return a, nil
}

// Acts gives the acts after the one of that number, in order; 0 gives all. The sequence ends after the first error.
func (r *Reader) Acts(ctx context.Context, after int64) iter.Seq2[Act, error] {
	if r.layout < 2 {
		return none[Act]
	}
	return pieces(ctx, r.db, scanAct, func(a *Act) int64 { return a.ID }, after, actColumns+"WHERE id > ? ORDER BY id LIMIT ?")
}

// none is an empty sequence.
func none[T any](func(T, error) bool) {}

// pieces gives the rows of a query in pieces, each in a read transaction of its own, so that a list of any length is
// neither held in memory nor keeps the log from being folded in. The query takes the number to start after and the
// limit.
func pieces[T any](ctx context.Context, db querier, scan func(rows *sql.Rows, v *T) error, id func(*T) int64, after int64, query string, args ...any) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		for {
			piece, err := collect(ctx, db, scan, query, append([]any{after, exportBatch}, args...)...)
			if err != nil {
				var zero T
				yield(zero, err)
				return
			}
			for i := range piece {
				after = id(&piece[i])
				if !yield(piece[i], nil) {
					return
				}
			}
			if len(piece) < exportBatch {
				return
			}
		}
	}
}
