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
	insReading, insSpan, updStream, selTaken     *sql.Stmt
	insRun, insInstrument, insStream             *sql.Stmt
	insConfig, insCauses, insGap, insPortRefusal *sql.Stmt
	insEvent, insQuarantine                      *sql.Stmt
	prepared                                     []*sql.Stmt
}

func (s *statements) prepare(ctx context.Context, conn *sql.Conn) error {
	for _, p := range []struct {
		into **sql.Stmt
		text string
	}{
		{&s.insReading, `INSERT INTO reading (stream, seq, wall_ns, skew_ns, frame, high, low, indicated, temperature, tilt,
			ambient_temperature, ambient_pressure, ambient_humidity, kind, pressure, combined_u, coverage_factor,
			expanded_u, effective_dof, head, word, status_code, causes, config, refusal)
			VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`},
		{&s.insSpan, "INSERT INTO span (first_id, last_id, min_ns, max_ns) VALUES (?,?,?,?)"},
		{&s.updStream, "UPDATE stream SET last_id = ?, last_seq = ?, last_ns = ?, max_ns = ? WHERE id = ?"},
		{&s.selTaken, `SELECT EXISTS (SELECT 1 FROM span JOIN reading ON reading.id BETWEEN span.first_id AND span.last_id
				JOIN stream ON stream.id = reading.stream
				WHERE span.max_ns >= ?2 AND span.min_ns <= ?2 AND reading.wall_ns = ?2 AND stream.instrument = ?1)
			OR EXISTS (SELECT 1 FROM reading JOIN stream ON stream.id = reading.stream
				WHERE ?3 > 0 AND reading.id >= ?3 AND reading.wall_ns = ?2 AND stream.instrument = ?1)`},
		{&s.insRun, "INSERT INTO run (name, bridge, started_ns) VALUES (?,?,?)"},
		{&s.insInstrument, "INSERT INTO instrument (name) VALUES (?)"},
		{&s.insStream, "INSERT INTO stream (run, instrument) VALUES (?,?)"},
		{&s.insConfig, "INSERT INTO coefficient_set (hash) VALUES (?)"},
		{&s.insCauses, "INSERT INTO cause_list (causes) VALUES (?)"},
		{&s.insGap, `INSERT INTO gap (instrument, run, cause, from_seq, until_seq, from_ns, until_ns, count, note)
			VALUES (?,?,?,?,?,?,?,?,?)`},
		{&s.insPortRefusal, "INSERT INTO port_refusal (run, port, wall_ns, cause, frame, note, count) VALUES (?,?,?,?,?,?,?)"},
		{&s.insEvent, "INSERT INTO event (run, wall_ns, since_start_ns, code, instrument, note) VALUES (?,?,?,?,?,?)"},
		{&s.insQuarantine, `INSERT INTO quarantine (sink, reading, wall_ns, reason) VALUES (?,?,?,?)
			ON CONFLICT (sink, reading) DO UPDATE SET reason = excluded.reason`},
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
	for _, stmt := range s.prepared {
		errs = append(errs, stmt.Close())
	}
	return errors.Join(errs...)
}

// insertReading writes the row. decodeReading is its inverse.
func (s *state) insertReading(ctx context.Context, st *stream, ns int64, r *convert.Result) (int64, error) {
	var causes, config any
	var err error
	if len(r.Causes) > 0 {
		if causes, err = s.number(s.causes, s.insCauses, joinCauses(r.Causes)); err != nil {
			return 0, err
		}
	}
	if r.Config != "" {
		if config, err = s.number(s.configs, s.insConfig, r.Config); err != nil {
			return 0, err
		}
	}
	var frame any
	if r.Frame != nil {
		frame = r.Frame
	}
	var pressure, u, k, bigU, dof, head any
	if pa, ok := r.Pressure(); ok {
		pressure, u, k = pa, r.CombinedU, r.CoverageFactor
		if !math.IsInf(r.EffectiveDOF, 1) {
			dof = r.EffectiveDOF
		}
	} else {
		u, k, dof = unlessZero(r.CombinedU), unlessZero(r.CoverageFactor), unlessZero(r.EffectiveDOF)
	}
	if float64(r.CoverageFactor*r.CombinedU) != r.ExpandedU {
		bigU = r.ExpandedU
	}
	if r.Head.Set {
		head = float64(r.Head.V)
	}
	return inserted(s.insReading.ExecContext(ctx, st.id, int64(r.Seq), ns, int64(r.SinceStart)-(ns-st.startedNS), frame,
		micrometres(r.High), micrometres(r.Low), plain(r.Indicated), milliCelsius(r.Temperature), plain(r.Tilt),
		plain(r.AmbientTemperature), plain(r.AmbientPressure), plain(r.AmbientHumidity),
		int64(r.Kind), pressure, u, k, bigU, dof, head,
		packWord(r.Status, r.NE107), int64(r.StatusCode), causes, config, encodeRefusal(r.Refusal)))
}

func unlessZero(v float64) any {
	if v == 0 {
		return nil
	}
	return v
}
