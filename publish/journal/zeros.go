package journal

import (
	"context"
	"database/sql"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
)

// Uncertain is a measured value with its standard uncertainty, in the same unit.
type Uncertain[T ~float64] struct {
	V convert.Optional[T]
	U float64
}

// ZeroTaken is a zero taken on the running bridge. The latest of an instrument that was not dropped holds, for as long
// as the zero of the configuration file is the one it was taken under.
type ZeroTaken struct {
	ID          int64 // given by AddZero
	Instrument  string
	Time        time.Time
	Who, Why    string
	High, Low   Uncertain[quantity.Length]      // U in m
	Indicated   Uncertain[float64]              // in the unit of the scale
	Temperature Uncertain[quantity.Temperature] // U in K
	Tilt        convert.Optional[quantity.Angle]
	N           int // readings it is the mean of
	// AsFound is what the instrument showed at the zero before, in Pa.
	AsFound      Uncertain[quantity.DifferentialPressure]
	FileZeroHash string    // of the zero in the configuration file
	Dropped      time.Time // zero: holds
}

// AddZero makes a zero durable and gives its number.
func (j *Journal) AddZero(ctx context.Context, z ZeroTaken) (id int64, err error) {
	err = j.do(ctx, func(w *writer) error {
		var err error
		id, err = inserted(w.conn.ExecContext(context.Background(), `INSERT INTO zero_taken (instrument, wall_ns, who, why,
			high_m, high_u_m, low_m, low_u_m, indicated, indicated_u, temperature_k, temperature_u_k, tilt_rad, n,
			as_found_pa, as_found_u_pa, file_zero_hash) VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`,
			z.Instrument, z.Time.UnixNano(), z.Who, z.Why, realOrNull(z.High.V), z.High.U, realOrNull(z.Low.V), z.Low.U,
			realOrNull(z.Indicated.V), z.Indicated.U, realOrNull(z.Temperature.V), z.Temperature.U, realOrNull(z.Tilt), z.N,
			realOrNull(z.AsFound.V), z.AsFound.U, z.FileZeroHash))
		return err
	})
	return id, err
}

// DropZero ends a zero, so that the one before holds again.
func (j *Journal) DropZero(ctx context.Context, id int64, at time.Time) error {
	return j.do(ctx, func(w *writer) error {
		_, err := w.conn.ExecContext(context.Background(), "UPDATE zero_taken SET dropped_ns = ? WHERE id = ? AND dropped_ns IS NULL",
			at.UnixNano(), id)
		return err
	})
}

// Zeros gives the zeros taken on an instrument, the oldest first, those that were dropped included; of all instruments
// where the name is empty.
func (r *Reader) Zeros(ctx context.Context, instrument string) ([]ZeroTaken, error) {
	if r.layout < 2 {
		return nil, nil
	}
	return collect(ctx, r.db, func(rows *sql.Rows, z *ZeroTaken) error {
		var at int64
		var dropped sql.NullInt64
		var high, low, indicated, temperature, tilt, found sql.NullFloat64
		var us [5]sql.NullFloat64
		err := rows.Scan(&z.ID, &z.Instrument, &at, &z.Who, &z.Why, &high, &us[0], &low, &us[1], &indicated, &us[2],
			&temperature, &us[3], &tilt, &z.N, &found, &us[4], &z.FileZeroHash, &dropped)
		z.Time = unixTime(at)
		if dropped.Valid {
			z.Dropped = unixTime(dropped.Int64)
		}
		z.High = Uncertain[quantity.Length]{optionalOf[quantity.Length](high), us[0].Float64}
		z.Low = Uncertain[quantity.Length]{optionalOf[quantity.Length](low), us[1].Float64}
		z.Indicated = Uncertain[float64]{optionalOf[float64](indicated), us[2].Float64}
		z.Temperature = Uncertain[quantity.Temperature]{optionalOf[quantity.Temperature](temperature), us[3].Float64}
		z.Tilt = optionalOf[quantity.Angle](tilt)
		z.AsFound = Uncertain[quantity.DifferentialPressure]{optionalOf[quantity.DifferentialPressure](found), us[4].Float64}
		return err
	}, `SELECT id, instrument, wall_ns, who, why, high_m, high_u_m, low_m, low_u_m, indicated, indicated_u,
		temperature_k, temperature_u_k, tilt_rad, n, as_found_pa, as_found_u_pa, file_zero_hash, dropped_ns
		FROM zero_taken WHERE ?1 = '' OR instrument = ?1 ORDER BY id`, instrument)
}

// realOrNull gives a finite number its column value; what is none is NULL, as where there is no value.
func realOrNull[T ~float64](o convert.Optional[T]) any {
	if !o.Set || finiteOrNone(float64(o.V)) == nil {
		return nil
	}
	return float64(o.V)
}

func optionalOf[T ~float64](v sql.NullFloat64) convert.Optional[T] {
	return convert.Optional[T]{V: T(v.Float64), Set: v.Valid}
}
