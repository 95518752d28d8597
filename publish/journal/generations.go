package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"time"

	"manobridge/convert"
)

// Generation is a set of results that were computed anew from readings kept, with other coefficients or by a later
// program. They stand beside the first results, which stay as they are.
type Generation struct {
	ID       int64     // given by BeginGeneration
	Made     time.Time // when it was begun
	Ended    time.Time // zero: it was not finished, and is not to be relied on
	Run      string    // that made it
	Who, Why string
	Tag      string
	Note     string
	Count    int64 // results in it
}

// Recomputed is one result of a generation. Of the Result everything that is computed is set, and the name; the
// positions are those of the row it was computed from.
type Recomputed struct {
	Generation int64
	Row        int64 // of the reading
	convert.Result
}

// ErrNoGeneration says that there is no generation of that number that is being written.
var ErrNoGeneration = errors.New("there is no such generation, or it has ended")

// BeginGeneration records that results are being computed anew, and gives its number for AppendRecomputed.
func (j *Journal) BeginGeneration(ctx context.Context, g Generation) (id int64, err error) {
	err = j.do(ctx, func(w *writer) error {
		var err error
		id, err = inserted(w.conn.ExecContext(context.Background(), `INSERT INTO generation (made_ns, run, who, why, tag, note, count)
			VALUES (?,?,?,?,?,?,0)`, g.Made.UnixNano(), g.Run, g.Who, g.Why, g.Tag, g.Note))
		return err
	})
	return id, err
}

// AppendRecomputed adds results to a generation that has not ended: all of them, or none. A few hundred at a time leave
// room for readings in between.
func (j *Journal) AppendRecomputed(ctx context.Context, generation int64, batch []Recomputed) error {
	for i := range batch {
		if err := check(&batch[i].Result); err != nil {
			return err
		}
	}
	return j.do(ctx, func(w *writer) error {
		ctx := context.Background()
		touched, err := affected(w.conn.ExecContext(ctx, "UPDATE generation SET count = count + ? WHERE id = ? AND ended_ns IS NULL",
			len(batch), generation))
		if err != nil {
			return err
		}
		if touched == 0 {
			return ErrNoGeneration
		}
		for i := range batch {
			c, err := w.encodeWorked(&batch[i].Result)
			if err != nil {
				return err
			}
			if _, err := w.insRecomputed.ExecContext(ctx, generation, batch[i].Row, c.kind, c.pressure, c.u, c.k, c.bigU, c.dof,
				c.head, c.word, c.statusCode, c.causes, c.config, c.refusal); err != nil {
				return err
			}
		}
		return nil
	})
}

// EndGeneration records that a generation is whole.
func (j *Journal) EndGeneration(ctx context.Context, generation int64, at time.Time) error {
	return j.do(ctx, func(w *writer) error {
		touched, err := affected(w.conn.ExecContext(context.Background(),
			"UPDATE generation SET ended_ns = ? WHERE id = ? AND ended_ns IS NULL", at.UnixNano(), generation))
		if err == nil && touched == 0 {
			return ErrNoGeneration
		}
		return err
	})
}

func affected(r sql.Result, err error) (int64, error) {
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// Generations gives all of them, the oldest first.
func (r *Reader) Generations(ctx context.Context) ([]Generation, error) {
	if r.layout < 2 {
		return nil, nil
	}
	return collect(ctx, r.db, func(rows *sql.Rows, g *Generation) error {
		var made int64
		var ended sql.NullInt64
		err := rows.Scan(&g.ID, &made, &ended, &g.Run, &g.Who, &g.Why, &g.Tag, &g.Note, &g.Count)
		g.Made = unixTime(made)
		if ended.Valid {
			g.Ended = unixTime(ended.Int64)
		}
		return err
	}, "SELECT id, made_ns, ended_ns, run, who, why, tag, note, count FROM generation ORDER BY id")
}

// Recomputed gives the results of a generation whose readings a query chooses, in the order the readings were received,
// each with its reading. The sequence ends after the first error.
func (r *Reader) Recomputed(ctx context.Context, generation int64, q Query) iter.Seq2[Recomputed, error] {
	if r.layout < 2 {
		return none[Recomputed]
	}
	return func(yield func(Recomputed, error) bool) {
		var piece map[int64]rawRecomputed // of rows up to loaded
		var loaded int64
		for row, err := range r.Export(ctx, q) {
			if err != nil {
				yield(Recomputed{}, err)
				return
			}
			if row.ID > loaded {
				if piece, loaded, err = r.recomputedAfter(ctx, generation, row.ID-1); err != nil {
					yield(Recomputed{}, err)
					return
				}
			}
			raw, ok := piece[row.ID]
			if !ok {
				continue
			}
			v := Recomputed{Generation: generation, Row: row.ID, Result: convert.Result{Reading: row.Reading}}
			v.Refusal = nil
			config, causes, err := r.words(ctx, raw.config, raw.causes)
			if err == nil {
				err = decodeWorked(&raw.rawWorked, config, causes, &v.Result)
			}
			if err != nil {
				err = fmt.Errorf("read journal: generation %d, row %d: %w", generation, row.ID, err)
			}
			if !yield(v, err) || err != nil {
				return
			}
		}
	}
}

type rawRecomputed struct {
	row int64
	rawWorked
}

// recomputedAfter gives the next results of a generation by their row, and up to which row that is all of them.
func (r *Reader) recomputedAfter(ctx context.Context, generation, after int64) (map[int64]rawRecomputed, int64, error) {
	list, err := collect(ctx, r.db, func(rows *sql.Rows, c *rawRecomputed) error {
		return rows.Scan(&c.row, &c.kind, &c.pressure, &c.u, &c.k, &c.expandedU, &c.dof, &c.headMM, &c.word,
			&c.statusCode, &c.causes, &c.config, &c.refusal)
	}, `SELECT reading, kind, pressure, combined_u, coverage_factor, expanded_u, effective_dof, head, word,
		status_code, causes, config, refusal FROM recomputed WHERE generation = ? AND reading > ? ORDER BY reading LIMIT ?`,
		generation, after, exportBatch)
	piece := make(map[int64]rawRecomputed, len(list))
	for _, c := range list {
		piece[c.row] = c
	}
	if len(list) == exportBatch {
		return piece, list[len(list)-1].row, err
	}
	return piece, maxRow, err
}
