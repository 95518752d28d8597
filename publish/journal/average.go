package journal

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// averageText is convert.Average as column json has it; what is not a number is left out.
type averageText struct {
	WindowNS int64    `json:"window_ns"`
	Samples  int      `json:"samples"`
	Good     int      `json:"good"`
	MinPa    *float64 `json:"min_pa,omitempty"`
	MeanPa   *float64 `json:"mean_pa,omitempty"`
	MaxPa    *float64 `json:"max_pa,omitempty"`
	SDPa     *float64 `json:"sd_pa,omitempty"`
}

func finiteOrNone(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// insertAverage keeps what the reading of a row was made of. averageRow.decode is its inverse; an infinite number comes
// back as NaN, both mean that there is none.
func (s *state) insertAverage(ctx context.Context, id int64, r *convert.Result) (*averageRow, error) {
	a := r.Average
	text, err := json.Marshal(averageText{WindowNS: int64(a.Window), Samples: a.Samples, Good: a.Good,
		MinPa: finiteOrNone(a.MinPa), MeanPa: finiteOrNone(a.MeanPa), MaxPa: finiteOrNone(a.MaxPa), SDPa: finiteOrNone(a.SDPa)})
	if err != nil {
		return nil, err
	}
	row := averageRow{string(text), orNull(float64(r.HighExtra.U)), orNull(r.HighExtra.DOF),
		orNull(float64(r.LowExtra.U)), orNull(r.LowExtra.DOF)}
	_, err = s.insAverage.ExecContext(ctx, id, row.text, row.highU, row.highDOF, row.lowU, row.lowDOF)
	return &row, err
}

// averageRow is a line of table average.
type averageRow struct {
	text                         string
	highU, highDOF, lowU, lowDOF sql.NullFloat64
}

// orNull is NULL for what SQLite has no number for, as for 0.
func orNull(v float64) sql.NullFloat64 {
	if math.IsNaN(v) {
		v = 0 // what is read from memory is to be what the file gives
	}
	return sql.NullFloat64{Float64: v, Valid: v != 0}
}

func (a *averageRow) decode(r *convert.Result) error {
	var t averageText
	if err := json.Unmarshal([]byte(a.text), &t); err != nil {
		return err
	}
	r.Average = &convert.Average{Window: time.Duration(t.WindowNS), Samples: t.Samples, Good: t.Good,
		MinPa: orNaN(t.MinPa), MeanPa: orNaN(t.MeanPa), MaxPa: orNaN(t.MaxPa), SDPa: orNaN(t.SDPa)}
	r.HighExtra = convert.Extra{U: quantity.Length(a.highU.Float64), DOF: a.highDOF.Float64}
	r.LowExtra = convert.Extra{U: quantity.Length(a.lowU.Float64), DOF: a.lowDOF.Float64}
	return nil
}

// averages gives the lines of rows first to last. Layout 1 has none.
func (r *Reader) averages(ctx context.Context, first, last int64) (map[int64]averageRow, error) {
	if r.layout < 2 {
		return nil, nil
	}
	var out map[int64]averageRow
	err := each(ctx, r.db, func(rows *sql.Rows) error {
		var id int64
		var a averageRow
		err := rows.Scan(&id, &a.text, &a.highU, &a.highDOF, &a.lowU, &a.lowDOF)
		if out == nil {
			out = map[int64]averageRow{}
		}
		out[id] = a
		return err
	}, "SELECT reading, json, high_u, high_dof, low_u, low_dof FROM average WHERE reading BETWEEN ? AND ?", first, last)
	return out, err
}
