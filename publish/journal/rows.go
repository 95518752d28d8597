package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
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
	out, bad, err := r.decoded(ctx, nil, after, until, limit)
	if err == nil && bad != nil && errors.Is(bad, errNoName) { // it was written after the names were read
		if err = r.loadNames(ctx); err == nil {
			out, bad, err = r.decoded(ctx, out, bad.ID-1, until, limit)
		}
	}
	var averages map[int64]averageRow
	if err == nil && len(out) > 0 {
		averages, err = r.averages(ctx, out[0].ID, out[len(out)-1].ID)
	}
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	for i := range out {
		if a, ok := averages[out[i].ID]; ok {
			if err := a.decode(&out[i].Result); err != nil {
				return out[:i], &UndecodableRow{ID: out[i].ID, Err: err}
			}
		}
	}
	if bad != nil {
		return out, bad
	}
	return out, nil
}

// decoded appends the rows to out until it has limit of them or one cannot be decoded, without their averages.
func (r *Reader) decoded(ctx context.Context, out []publish.Row, after, until int64, limit int) ([]publish.Row, *UndecodableRow, error) {
	rows, err := r.db.QueryContext(ctx, "SELECT whole("+readingColumns+") FROM reading WHERE id > ? AND id <= ? ORDER BY id LIMIT ?",
		after, until, limit-len(out))
	if err != nil {
		return nil, nil, err
	}
	defer rows.Close()
	const many = 256 // that there are so many tells that there may be as many as are asked for
	var whole sql.RawBytes
	for rows.Next() {
		var c rawRow
		if err := rows.Scan(&whole); err != nil {
			return nil, nil, err
		}
		if err := c.read(whole); err != nil {
			return nil, nil, err
		}
		if len(out) == cap(out) && len(out) >= many {
			out = slices.Grow(out, limit-len(out))
		}
		out = append(out, publish.Row{})
		if err := r.decode(&c, &out[len(out)-1]); err != nil {
			return out[:len(out)-1], &UndecodableRow{ID: c.id, Err: err}, nil
		}
	}
	return out, nil, rows.Err()
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

// read takes the columns in the order of readingColumns.
func (c *rawRow) read(whole []byte) error {
	in := cells{rest: whole}
	c.id, c.stream, c.seq, c.wallNS, c.skewNS = in.whole(), in.whole(), in.whole(), in.whole(), in.whole()
	c.frame = in.blob()
	c.high, c.low, c.indicated, c.temperature = in.any(), in.any(), in.any(), in.any()
	c.tilt, c.ambientT, c.ambientP, c.ambientH = in.any(), in.any(), in.any(), in.any()
	c.kind = in.whole()
	c.pressure, c.u, c.k, c.expandedU = in.realOrNone(), in.realOrNone(), in.realOrNone(), in.realOrNone()
	c.dof, c.headMM = in.realOrNone(), in.realOrNone()
	c.word, c.statusCode = in.whole(), in.whole()
	c.causes, c.config, c.refusal = in.wholeOrNone(), in.wholeOrNone(), in.textOrNone()
	return in.err
}

func (r *Reader) decode(c *rawRow, out *publish.Row) error {
	st, config, causes, err := r.lookUp(c)
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
