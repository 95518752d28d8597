package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Kept is a small state under a name, as Keep left it.
type Kept struct {
	Name  string
	Value []byte
	At    time.Time
}

// Keep makes a small state durable under a name, in place of what was there. It is for what must survive a restart: a
// mark that an instrument is in service, the state of an alarm.
func (j *Journal) Keep(ctx context.Context, name string, value []byte) error {
	return j.KeepAll(ctx, map[string][]byte{name: value})
}

// KeepAll is Keep for several names at once: all of them, or none.
func (j *Journal) KeepAll(ctx context.Context, values map[string][]byte) error {
	return j.do(ctx, func(w *writer) error {
		now := w.opt.Now().UnixNano()
		for name, value := range values {
			if value == nil {
				value = []byte{}
			}
			if _, err := w.conn.ExecContext(context.Background(), `INSERT INTO kept (name, value, wall_ns) VALUES (?,?,?)
				ON CONFLICT (name) DO UPDATE SET value = excluded.value, wall_ns = excluded.wall_ns`, name, value, now); err != nil {
				return err
			}
		}
		return nil
	})
}

// Forget takes names away. One that is not there is no error.
func (j *Journal) Forget(ctx context.Context, names ...string) error {
	return j.do(ctx, func(w *writer) error {
		for _, name := range names {
			if _, err := w.conn.ExecContext(context.Background(), "DELETE FROM kept WHERE name = ?", name); err != nil {
				return err
			}
		}
		return nil
	})
}

// Kept gives the state kept under a name, and whether there is one.
func (r *Reader) Kept(ctx context.Context, name string) (k Kept, ok bool, err error) {
	if r.layout < 2 {
		return k, false, nil
	}
	var at int64
	err = r.db.QueryRowContext(ctx, "SELECT name, value, wall_ns FROM kept WHERE name = ?", name).Scan(&k.Name, &k.Value, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return k, false, nil
	}
	if err != nil {
		return k, false, fmt.Errorf("read journal: %w", err)
	}
	k.At = unixTime(at)
	return k, true, nil
}

// KeptAll gives the states whose names begin with prefix, by name.
func (r *Reader) KeptAll(ctx context.Context, prefix string) ([]Kept, error) {
	if r.layout < 2 {
		return nil, nil
	}
	return collect(ctx, r.db, func(rows *sql.Rows, k *Kept) error {
		var at int64
		err := rows.Scan(&k.Name, &k.Value, &at)
		k.At = unixTime(at)
		return err
	}, "SELECT name, value, wall_ns FROM kept WHERE substr(name, 1, length(?1)) = ?1 ORDER BY name", prefix)
}
