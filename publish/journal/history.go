package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

// Run is one start of the bridge.
type Run struct {
	Name    string
	Bridge  string
	Started time.Time
	Ended   time.Time // zero: still running, or it ended without a word
}

// Runs gives all runs, the latest last.
func (r *Reader) Runs(ctx context.Context) ([]Run, error) {
	return collect(ctx, r.db, func(rows *sql.Rows, v *Run) error {
		var started int64
		var ended sql.NullInt64
		err := rows.Scan(&v.Name, &v.Bridge, &started, &ended)
		v.Started = unixTime(started)
		if ended.Valid {
			v.Ended = unixTime(ended.Int64)
		}
		return err
	}, "SELECT name, bridge, started_ns, ended_ns FROM run ORDER BY id")
}

// Gaps gives all recorded gaps in the order they were recorded.
func (r *Reader) Gaps(ctx context.Context) ([]Gap, error) { return gather(r.EachGap(ctx)) }

// EachGap gives them one after the other. The sequence ends after the first error.
func (r *Reader) EachGap(ctx context.Context) iter.Seq2[Gap, error] {
	return pieces(ctx, r.db, scanGap, func(g *Gap) int64 { return g.ID }, 0, gapColumns+"WHERE id > ? ORDER BY id LIMIT ?")
}

// OpenGaps gives those that have not ended.
func (r *Reader) OpenGaps(ctx context.Context) ([]Gap, error) {
	return collect(ctx, r.db, scanGap, gapColumns+"WHERE until_ns IS NULL ORDER BY id")
}

const gapColumns = "SELECT id, instrument, run, cause, from_seq, until_seq, from_ns, until_ns, count, note FROM gap "

func scanGap(rows *sql.Rows, g *Gap) error {
	var from int64
	var until sql.NullInt64
	err := rows.Scan(&g.ID, &g.Instrument, &g.Run, &g.Cause, &g.FromSeq, &g.UntilSeq, &from, &until, &g.Count, &g.Note)
	g.From = unixTime(from)
	if until.Valid {
		g.Until = unixTime(until.Int64)
	}
	return err
}

// PortRefusals gives what belonged to no instrument.
func (r *Reader) PortRefusals(ctx context.Context) ([]PortRefusal, error) {
	return gather(r.EachPortRefusal(ctx))
}

// EachPortRefusal gives them one after the other. The sequence ends after the first error.
func (r *Reader) EachPortRefusal(ctx context.Context) iter.Seq2[PortRefusal, error] {
	return pieces(ctx, r.db, func(rows *sql.Rows, p *PortRefusal) error {
		var at int64
		err := rows.Scan(&p.ID, &p.Run, &p.Port, &at, &p.Cause, &p.Frame, &p.Note, &p.Count)
		p.ReceivedAt = unixTime(at)
		return err
	}, func(p *PortRefusal) int64 { return p.ID }, 0,
		"SELECT id, run, port, wall_ns, cause, frame, note, count FROM port_refusal WHERE id > ? ORDER BY id LIMIT ?")
}

// Events gives all events.
func (r *Reader) Events(ctx context.Context) ([]Event, error) { return gather(r.EachEvent(ctx)) }

// EachEvent gives them one after the other. The sequence ends after the first error.
func (r *Reader) EachEvent(ctx context.Context) iter.Seq2[Event, error] {
	return pieces(ctx, r.db, func(rows *sql.Rows, e *Event) error {
		var at, since int64
		err := rows.Scan(&e.ID, &e.Run, &at, &since, &e.Code, &e.Instrument, &e.Note)
		e.Time, e.SinceStart = unixTime(at), time.Duration(since)
		return err
	}, func(e *Event) int64 { return e.ID }, 0,
		"SELECT id, run, wall_ns, since_start_ns, code, instrument, note FROM event WHERE id > ? ORDER BY id LIMIT ?")
}

func gather[T any](all iter.Seq2[T, error]) (out []T, err error) {
	for v, err := range all {
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// Quarantined is a row that a sink refused.
type Quarantined struct {
	Sink   string
	Row    int64
	Name   convert.Name
	At     time.Time
	Reason string
}

// Quarantined gives what the sinks refused, or what one of them did.
func (r *Reader) Quarantined(ctx context.Context, sink string) ([]Quarantined, error) {
	query := `SELECT sink, reading, wall_ns, reason, run, instrument, seq FROM quarantine
		WHERE ?1 = '' OR sink = ?1 ORDER BY id`
	if r.layout < 2 {
		query = `SELECT sink, quarantine.reading, quarantine.wall_ns, reason, run.name, instrument.name, reading.seq
		FROM quarantine JOIN reading ON reading.id = quarantine.reading JOIN stream ON stream.id = reading.stream
		JOIN run ON run.id = stream.run JOIN instrument ON instrument.id = stream.instrument
		WHERE ?1 = '' OR sink = ?1 ORDER BY quarantine.id`
	}
	return collect(ctx, r.db, func(rows *sql.Rows, q *Quarantined) error {
		var at int64
		err := rows.Scan(&q.Sink, &q.Row, &at, &q.Reason, &q.Name.Run, &q.Name.Instrument, &q.Name.Seq)
		q.At = unixTime(at)
		return err
	}, query, sink)
}

// CoefficientSet gives the set with that hash, and whether it is kept.
func (r *Reader) CoefficientSet(ctx context.Context, hash string) (CoefficientSet, bool, error) {
	c := CoefficientSet{Hash: hash}
	var instrument, text sql.NullString
	err := r.db.QueryRowContext(ctx, "SELECT instrument, text FROM coefficient_set WHERE hash = ?", hash).Scan(&instrument, &text)
	c.Instrument, c.Text = instrument.String, text.String
	if errors.Is(err, sql.ErrNoRows) {
		return c, false, nil
	}
	return c, err == nil && text.Valid, err
}

// Cursor gives what SaveCursor last made durable for a sink, and whether there is one.
func (r *Reader) Cursor(ctx context.Context, sink string) (publish.Cursor, bool, error) {
	var c publish.Cursor
	err := r.db.QueryRowContext(ctx, "SELECT live FROM cursor WHERE sink = ?", sink).Scan(&c.Live)
	if errors.Is(err, sql.ErrNoRows) {
		return c, false, nil
	}
	if err != nil {
		return c, false, fmt.Errorf("read journal: %w", err)
	}
	c.Late, err = collect(ctx, r.db, func(rows *sql.Rows, v *publish.Range) error {
		return rows.Scan(&v.From, &v.Until)
	}, "SELECT from_id, until_id FROM late_range WHERE sink = ? ORDER BY from_id", sink)
	return c, err == nil, err
}

func collect[T any](ctx context.Context, db querier, scan func(rows *sql.Rows, v *T) error, query string, args ...any) ([]T, error) {
	var out []T
	err := each(ctx, db, func(rows *sql.Rows) error {
		var v T
		err := scan(rows, &v)
		out = append(out, v)
		return err
	}, query, args...)
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	return out, nil
}

// Previous gives the last reading that every instrument had before this run.
func (j *Journal) Previous() []Tail { return j.previous }

// Last gives the number of the newest durable row, 0 where there is none.
func (j *Journal) Last() int64 {
	j.w.mu.Lock()
	defer j.w.mu.Unlock()
	return j.w.last
}

// Wait blocks until there is a durable row after the one named, or ctx is done.
func (j *Journal) Wait(ctx context.Context, after int64) error {
	for {
		j.w.mu.Lock()
		last, more := j.w.last, j.w.more
		j.w.mu.Unlock()
		if last > after {
			return nil
		}
		select {
		case <-more:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Stats is how the journal stands.
type Stats struct {
	Rows    int64 // results made durable since Open
	Last    int64 // number of the newest durable row
	Waiting int   // results handed over and not durable yet
	Lost    int64 // results given up since Open; each is in a gap
	Full    error // why nothing can be written now; nil when it can
}

// Stats tells how the journal stands.
func (j *Journal) Stats() Stats {
	w := j.w
	w.mu.Lock()
	defer w.mu.Unlock()
	return Stats{Rows: w.rows, Last: w.last, Waiting: w.waiting, Lost: w.lostAll, Full: w.full}
}

// Path gives the file.
func (j *Journal) Path() string { return j.opt.Path }
