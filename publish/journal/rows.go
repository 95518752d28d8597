package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
)

const readingColumns = `id, stream, seq, wall_ns, skew_ns, frame, high, low, indicated, temperature, tilt,
	ambient_temperature, ambient_pressure, ambient_humidity, kind, pressure, combined_u, coverage_factor,
	expanded_u, effective_dof, head, word, status_code, causes, config, refusal`

// Rows gives up to limit rows with ID > after, ascending. A row is the identical result that was appended, but for
// Contributions, which follow from the row and its coefficient set, for ReceivedAt where it had to be made unique, and for
// HighExtra and LowExtra of a reading that is no average, which follow from its frame. A row that cannot be read back ends
// them with an *UndecodableRow.
func (r *Reader) Rows(ctx context.Context, after int64, limit int) ([]publish.Row, error) {
	return r.between(ctx, after, math.MaxInt64, limit)
}

// UndecodableRow says that a row is in the file and cannot be read back: a byte of it was changed, or a program of
// another kind wrote it.
type UndecodableRow struct {
	ID  int64
	Err error
}

// Error names the row.
func (e *UndecodableRow) Error() string {
	return fmt.Sprintf("row %d cannot be read back: %v", e.ID, e.Err)
}

// Unwrap gives the cause.
func (e *UndecodableRow) Unwrap() error { return e.Err }

// between gives up to limit rows with after < ID ≤ until, up to one that cannot be decoded: the error is then an
// *UndecodableRow, and the rows before it are given with it.
func (r *Reader) between(ctx context.Context, after, until int64, limit int) ([]publish.Row, error) {
	rows, err := r.db.QueryContext(ctx, "SELECT "+readingColumns+" FROM reading WHERE id > ? AND id <= ? ORDER BY id LIMIT ?",
		after, until, limit)
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	var raws []rawRow
	for rows.Next() {
		var c rawRow
		if err := c.scan(rows); err != nil {
			rows.Close()
			return nil, fmt.Errorf("read journal: %w", err)
		}
		raws = append(raws, c)
	}
	rows.Close() // before the names are looked up, which may need the connection
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	if len(raws) == 0 {
		return nil, nil
	}
	averages, err := r.averages(ctx, raws[0].id, raws[len(raws)-1].id)
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	out := make([]publish.Row, len(raws))
	for i := range raws {
		err := r.decode(ctx, &raws[i], &out[i])
		if a, ok := averages[raws[i].id]; ok && err == nil {
			err = a.decode(&out[i].Result)
		}
		if err != nil {
			if diskFault(err) || ctx.Err() != nil {
				return nil, fmt.Errorf("read journal: %w", err)
			}
			return out[:i], &UndecodableRow{ID: raws[i].id, Err: err}
		}
	}
	return out, nil
}

// rawRow is a row as the file has it.
type rawRow struct {
	id, stream, seq, wallNS, skewNS    int64
	frame                              []byte
	high, low, indicated, temperature  any
	tilt, ambientT, ambientP, ambientH any
	rawWorked
}

// rawWorked is the computed part of it.
type rawWorked struct {
	kind, word, statusCode                 int64
	pressure, u, k, expandedU, dof, headMM sql.NullFloat64
	causes, config                         sql.NullInt64
	refusal                                sql.NullString
}

func (c *rawRow) scan(rows *sql.Rows) error {
	return rows.Scan(&c.id, &c.stream, &c.seq, &c.wallNS, &c.skewNS, &c.frame, &c.high, &c.low, &c.indicated,
		&c.temperature, &c.tilt, &c.ambientT, &c.ambientP, &c.ambientH, &c.kind, &c.pressure, &c.u, &c.k,
		&c.expandedU, &c.dof, &c.headMM, &c.word, &c.statusCode, &c.causes, &c.config, &c.refusal)
}

func (r *Reader) decode(ctx context.Context, c *rawRow, out *publish.Row) error {
	st, config, causes, err := r.lookUp(ctx, c)
	if err != nil {
		return err
	}
	out.ID = c.id
	out.Name = convert.Name{Run: st.run, Instrument: st.instrument, Seq: uint64(c.seq)}
	out.ReceivedAt = unixTime(c.wallNS)
	out.SinceStart = time.Duration(c.wallNS - st.startedNS + c.skewNS)
	out.Frame = c.frame
	if out.High, err = number(c.high, lengthOf); err != nil {
		return err
	}
	if out.Low, err = number(c.low, lengthOf); err != nil {
		return err
	}
	if out.Temperature, err = number(c.temperature, temperatureOf); err != nil {
		return err
	}
	if out.Indicated, err = number(c.indicated, asIs[float64]); err != nil {
		return err
	}
	if out.Tilt, err = number(c.tilt, asIs[quantity.Angle]); err != nil {
		return err
	}
	if out.AmbientTemperature, err = number(c.ambientT, asIs[quantity.Temperature]); err != nil {
		return err
	}
	if out.AmbientPressure, err = number(c.ambientP, asIs[quantity.AbsolutePressure]); err != nil {
		return err
	}
	if out.AmbientHumidity, err = number(c.ambientH, asIs[quantity.Ratio]); err != nil {
		return err
	}
	return decodeWorked(&c.rawWorked, config, causes, &out.Result)
}

// decodeWorked is the inverse of encodeWorked.
func decodeWorked(c *rawWorked, config, causes string, out *convert.Result) error {
	out.Kind = convert.ValueKind(c.kind)
	switch out.Kind {
	case convert.DifferentialValue:
		out.Differential = quantity.DifferentialPressure(c.pressure.Float64)
	case convert.AbsoluteValue:
		out.Absolute = quantity.AbsolutePressure(c.pressure.Float64)
	}
	out.CombinedU, out.CoverageFactor, out.EffectiveDOF = c.u.Float64, c.k.Float64, c.dof.Float64
	if out.Kind != convert.NoValue && !c.dof.Valid {
		out.EffectiveDOF = math.Inf(1)
	}
	out.ExpandedU = float64(out.CoverageFactor * out.CombinedU)
	if c.expandedU.Valid {
		out.ExpandedU = c.expandedU.Float64
	}
	if c.headMM.Valid {
		out.Head = convert.Some(quantity.Length(c.headMM.Float64))
	}
	unpackWord(c.word, out)
	out.StatusCode = uint32(c.statusCode)
	out.Causes = splitCauses(causes)
	out.Config = config
	if c.refusal.Valid {
		out.Refusal = &convert.Refusal{}
		return json.Unmarshal([]byte(c.refusal.String), out.Refusal)
	}
	return nil
}

// lookUp gives the texts a row refers to by number.
func (r *Reader) lookUp(ctx context.Context, c *rawRow) (st streamRow, config, causes string, err error) {
	r.mu.Lock()
	st, known := r.names.streams[c.stream]
	r.mu.Unlock()
	if !known {
		if err := r.loadNames(ctx); err != nil {
			return st, "", "", err
		}
		r.mu.Lock()
		st, known = r.names.streams[c.stream]
		r.mu.Unlock()
		if !known {
			return st, "", "", errNoName
		}
	}
	config, causes, err = r.words(ctx, c.config, c.causes)
	return st, config, causes, err
}

var errNoName = errors.New("it refers to a name that is not there; the file was changed by another program")

// words gives the texts that a computed row refers to by number.
func (r *Reader) words(ctx context.Context, config, causes sql.NullInt64) (configText, causesText string, err error) {
	for range 2 {
		r.mu.Lock()
		configText, knownConfig := r.names.configs[config.Int64]
		causesText, knownCauses := r.names.causes[causes.Int64]
		r.mu.Unlock()
		if (knownConfig || !config.Valid) && (knownCauses || !causes.Valid) {
			return configText, causesText, nil
		}
		if err := r.loadNames(ctx); err != nil {
			return "", "", err
		}
	}
	return "", "", errNoName
}

func (r *Reader) loadNames(ctx context.Context) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.names.load(ctx, r.db)
}

// load reads all names. The row that needs them was read before, so they are in the file.
func (n *names) load(ctx context.Context, db *sql.DB) error {
	fresh := names{streams: map[int64]streamRow{}, configs: map[int64]string{}, causes: map[int64]string{}}
	err := each(ctx, db, func(rows *sql.Rows) error {
		var id int64
		var st streamRow
		err := rows.Scan(&id, &st.run, &st.instrument, &st.startedNS)
		fresh.streams[id] = st
		return err
	}, `SELECT stream.id, run.name, instrument.name, run.started_ns
		FROM stream JOIN run ON run.id = stream.run JOIN instrument ON instrument.id = stream.instrument`)
	if err != nil {
		return err
	}
	for _, t := range []struct {
		into  map[int64]string
		query string
	}{
		{fresh.configs, "SELECT id, hash FROM coefficient_set"},
		{fresh.causes, "SELECT id, causes FROM cause_list"},
	} {
		if err := each(ctx, db, func(rows *sql.Rows) error {
			var id int64
			var text string
			err := rows.Scan(&id, &text)
			t.into[id] = text
			return err
		}, t.query); err != nil {
			return err
		}
	}
	*n = fresh
	return nil
}

// each runs a query and calls f for every row.
func each(ctx context.Context, db querier, f func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}
