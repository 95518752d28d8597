package journal

import (
	"context"
	"database/sql"
	"errors"
	"math"

	"manobridge/convert"
)

// statements are the writer's, prepared once.
type statements struct {
	shapes                                       shapes
	insSpan, updStream, selTaken                 *sql.Stmt
	insRun, insInstrument, insStream             *sql.Stmt
	insConfig, insCauses, insGap, insPortRefusal *sql.Stmt
	insEvent, insQuarantine                      *sql.Stmt
	insAverage, insRecomputed                    *sql.Stmt
	prepared                                     []*sql.Stmt
}

func (s *statements) prepare(ctx context.Context, conn *sql.Conn) error {
	s.shapes = shapes{conn, map[uint32]*sql.Stmt{}}
	for _, p := range []struct {
		into **sql.Stmt
		text string
	}{
		{&s.insSpan, "INSERT INTO span (first_id, last_id, min_ns, max_ns) VALUES (?,?,?,?)"},
		{&s.updStream, "UPDATE stream SET last_id = ?, last_seq = ?, last_ns = ?, max_ns = ? WHERE id = ?"},
		{&s.selTaken, `SELECT stream.instrument, reading.wall_ns FROM span
				CROSS JOIN reading ON reading.id BETWEEN span.first_id AND span.last_id
				JOIN stream ON stream.id = reading.stream
				WHERE span.max_ns >= ?1 AND span.min_ns < ?2 AND reading.wall_ns >= ?1 AND reading.wall_ns < ?2
			UNION ALL SELECT stream.instrument, reading.wall_ns FROM reading JOIN stream ON stream.id = reading.stream
				WHERE ?3 > 0 AND reading.id >= ?3 AND reading.wall_ns >= ?1 AND reading.wall_ns < ?2`},
		{&s.insRun, "INSERT INTO run (name, bridge, started_ns) VALUES (?,?,?)"},
		{&s.insInstrument, "INSERT INTO instrument (name) VALUES (?)"},
		{&s.insStream, "INSERT INTO stream (run, instrument) VALUES (?,?)"},
		{&s.insConfig, "INSERT INTO coefficient_set (hash) VALUES (?)"},
		{&s.insCauses, "INSERT INTO cause_list (causes) VALUES (?)"},
		{&s.insGap, `INSERT INTO gap (instrument, run, cause, from_seq, until_seq, from_ns, until_ns, count, note)
			VALUES (?,?,?,?,?,?,?,?,?)`},
		{&s.insPortRefusal, "INSERT INTO port_refusal (run, port, wall_ns, cause, frame, note, count) VALUES (?,?,?,?,?,?,?)"},
		{&s.insEvent, "INSERT INTO event (run, wall_ns, since_start_ns, code, instrument, note) VALUES (?,?,?,?,?,?)"},
		{&s.insQuarantine, `INSERT INTO quarantine (sink, reading, wall_ns, reason, run, instrument, seq)
			SELECT ?1, ?2, ?3, ?4, coalesce(run.name, ''), coalesce(instrument.name, ''), coalesce(reading.seq, 0)
			FROM (SELECT 1) LEFT JOIN reading ON reading.id = ?2 LEFT JOIN stream ON stream.id = reading.stream
			LEFT JOIN run ON run.id = stream.run LEFT JOIN instrument ON instrument.id = stream.instrument WHERE true
			ON CONFLICT (sink, reading) DO UPDATE SET reason = excluded.reason`},
		{&s.insAverage, "INSERT INTO average (reading, json, high_u, high_dof, low_u, low_dof) VALUES (?,?,?,?,?,?)"},
		{&s.insRecomputed, `INSERT INTO recomputed (generation, reading, kind, pressure, combined_u, coverage_factor,
			expanded_u, effective_dof, head, word, status_code, causes, config, refusal) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?)`},
	} {
		stmt, err := conn.PrepareContext(ctx, p.text)
		if err != nil {
			return err
		}
		*p.into = stmt
		s.prepared = append(s.prepared, stmt)
	}
	return nil
}

func (s *statements) closeStatements() error {
	var errs []error
	for _, stmt := range s.shapes.by {
		errs = append(errs, stmt.Close())
	}
	for _, stmt := range s.prepared {
		errs = append(errs, stmt.Close())
	}
	return errors.Join(errs...)
}

// worked is the computed part of a row, as columns. decodeWorked is its inverse.
type worked struct {
	kind                            int64
	pressure, u, k, bigU, dof, head any
	word, statusCode                int64
	causes, config, refusal         any
}

func (s *state) encodeWorked(r *convert.Result) (c worked, err error) {
	c.kind, c.word, c.statusCode, c.refusal = int64(r.Kind), packWord(r), int64(r.StatusCode), encodeRefusal(r.Refusal)
	if len(r.Causes) > 0 {
		if c.causes, err = s.number(s.causes, s.insCauses, joinCauses(r.Causes)); err != nil {
			return c, err
		}
	}
	if r.Config != "" {
		if c.config, err = s.number(s.configs, s.insConfig, r.Config); err != nil {
			return c, err
		}
	}
	if pa, ok := r.Pressure(); ok {
		c.pressure, c.u, c.k = pa, r.CombinedU, r.CoverageFactor
		if !math.IsInf(r.EffectiveDOF, 1) {
			c.dof = r.EffectiveDOF
		}
	} else {
		c.u, c.k, c.dof = unlessZero(r.CombinedU), unlessZero(r.CoverageFactor), unlessZero(r.EffectiveDOF)
	}
	if float64(r.CoverageFactor*r.CombinedU) != r.ExpandedU {
		c.bigU = r.ExpandedU
	}
	if r.Head.Set {
		c.head = float64(r.Head.V)
	}
	return c, nil
}

func unlessZero(v float64) any {
	if v == 0 {
		return nil
	}
	return v
}
