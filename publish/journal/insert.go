package journal

import (
	"context"
	"database/sql"
	"strings"

	"manobridge/convert"
)

// readingColumns are the columns of a reading, in the order of rawRow.read.
var readingColumns = [...]string{
	"id", "stream", "seq", "wall_ns", "skew_ns", "frame", "high", "low", "indicated", "temperature", "tilt",
	"ambient_temperature", "ambient_pressure", "ambient_humidity", "kind", "pressure", "combined_u", "coverage_factor",
	"expanded_u", "effective_dof", "head", "word", "status_code", "causes", "config", "refusal",
}

var readingList = strings.Join(readingColumns[:], ", ")

// shapes are statements that insert a reading, by the columns that have a value: to bind a column costs about as much where
// there is none, and a plain reading has none in 10 of 25.
type shapes struct {
	conn *sql.Conn
	by   map[uint32]*sql.Stmt
}

// mostShapes bounds them: instruments differ in a few columns, and a row may be refused.
const mostShapes = 64

// insert writes a row of all columns but the first, and gives its ID.
func (s *shapes) insert(ctx context.Context, values []any) (int64, error) {
	shape, there := uint32(0), make([]any, 0, len(readingColumns))
	for i, v := range values {
		if v != nil {
			shape |= 1 << i
			there = append(there, v)
		}
	}
	stmt := s.by[shape]
	if stmt == nil {
		var names []string
		for i, v := range values {
			if v != nil {
				names = append(names, readingColumns[1+i])
			}
		}
		text := "INSERT INTO reading (" + strings.Join(names, ", ") + ") VALUES (?" + strings.Repeat(",?", len(names)-1) + ")"
		if len(s.by) >= mostShapes {
			return inserted(s.conn.ExecContext(ctx, text, there...))
		}
		var err error
		if stmt, err = s.conn.PrepareContext(ctx, text); err != nil {
			return 0, err
		}
		s.by[shape] = stmt
	}
	return inserted(stmt.ExecContext(ctx, there...))
}

// insertReading writes the row, and keeps it as it was written. decode is its inverse.
func (s *state) insertReading(ctx context.Context, st *stream, ns int64, r *convert.Result) (int64, error) {
	c, err := s.encodeWorked(r)
	if err != nil {
		return 0, err
	}
	var frame any
	if r.Frame != nil {
		frame = r.Frame
	}
	row := [len(readingColumns)]any{nil, st.id, int64(r.Seq), ns, int64(r.SinceStart) - (ns - st.startedNS), frame,
		micrometres(r.High), micrometres(r.Low), plain(r.Indicated), milliCelsius(r.Temperature), plain(r.Tilt),
		plain(r.AmbientTemperature), plain(r.AmbientPressure), plain(r.AmbientHumidity),
		c.kind, c.pressure, c.u, c.k, c.bigU, c.dof, c.head, c.word, c.statusCode, c.causes, c.config, c.refusal}
	id, err := s.shapes.insert(ctx, row[1:])
	if err != nil {
		return 0, err
	}
	row[0] = id
	if s.written, err = appendRow(s.written[:0], row[:]); err != nil {
		return 0, err
	}
	if s.average = nil; r.Average != nil {
		s.average, err = s.insertAverage(ctx, id, r)
	}
	return id, err
}
