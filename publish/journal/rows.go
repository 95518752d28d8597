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
	var all []byte
	err := r.db.QueryRowContext(ctx, "SELECT whole("+readingList+") FROM (SELECT "+readingList+
		" FROM reading WHERE id > ? AND id <= ? ORDER BY id LIMIT ?)", after, until, limit).Scan(&all)
	if err != nil {
		return nil, fmt.Errorf("read journal: %w", err)
	}
	out, bad := r.decoded([][]byte{all})
	if bad != nil && errors.Is(bad, errNoName) { // it was written after the names were read
		if err := r.loadNames(ctx); err != nil {
			return nil, fmt.Errorf("read journal: %w", err)
		}
		out, bad = r.decoded([][]byte{all})
	}
	if len(out) > 0 {
		averages, err := r.averages(ctx, out[0].ID, out[len(out)-1].ID)
		if err != nil {
			return nil, fmt.Errorf("read journal: %w", err)
		}
		if wrong := withAverages(out, averages); wrong != nil {
			return out[:slices.IndexFunc(out, func(row publish.Row) bool { return row.ID == wrong.ID })], wrong
		}
	}
	if bad != nil {
		return out, bad
	}
	return out, nil
}

// decoded gives the rows without their averages, up to one that cannot be decoded.
func (r *Reader) decoded(pieces [][]byte) ([]publish.Row, *UndecodableRow) {
	rows := 0
	for _, piece := range pieces {
		for range wholeRows(piece) {
			rows++
		}
	}
	out := make([]publish.Row, 0, rows)
	for _, piece := range pieces {
		for row := range wholeRows(piece) {
			var c rawRow
			out = append(out, publish.Row{})
			err := c.read(row)
			if err == nil {
				err = r.decode(&c, &out[len(out)-1])
			}
			if err != nil {
				return out[:len(out)-1], &UndecodableRow{ID: c.id, Err: err}
			}
		}
	}
	return out, nil
}

// withAverages puts in the averages of the rows that have one.
func withAverages(rows []publish.Row, averages map[int64]averageRow) *UndecodableRow {
	if len(averages) == 0 {
		return nil
	}
	for i := range rows {
		if a, ok := averages[rows[i].ID]; ok {
			if err := a.decode(&rows[i].Result); err != nil {
				return &UndecodableRow{ID: rows[i].ID, Err: err}
			}
		}
	}
	return nil
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

// read takes the columns in their order.
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
