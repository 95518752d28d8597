package journal

import (
	"context"
	"database/sql"
	"errors"
)

// names are the texts that rows refer to by number.
type names struct {
	streams map[int64]streamRow
	configs map[int64]string
	causes  map[int64]string
}

type streamRow struct {
	run, instrument string
	startedNS       int64
}

// lookUp gives the texts a row refers to by number, of those that were read so far.
func (r *Reader) lookUp(c *rawRow) (st streamRow, config, causes string, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	st, known := r.names.streams[c.stream]
	config, causes, ok := r.names.words(c.config, c.causes)
	if !known || !ok {
		return st, "", "", errNoName
	}
	return st, config, causes, nil
}

var errNoName = errors.New("it refers to a name that is not there; the file was changed by another program")

// words gives the texts that a computed row refers to by number.
func (r *Reader) words(ctx context.Context, config, causes sql.NullInt64) (configText, causesText string, err error) {
	for range 2 {
		r.mu.Lock()
		configText, causesText, ok := r.names.words(config, causes)
		r.mu.Unlock()
		if ok {
			return configText, causesText, nil
		}
		if err := r.loadNames(ctx); err != nil {
			return "", "", err
		}
	}
	return "", "", errNoName
}

// words gives the texts, and whether both are known.
func (n *names) words(config, causes sql.NullInt64) (configText, causesText string, ok bool) {
	configText, knownConfig := n.configs[config.Int64]
	causesText, knownCauses := n.causes[causes.Int64]
	return configText, causesText, (knownConfig || !config.Valid) && (knownCauses || !causes.Valid)
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
