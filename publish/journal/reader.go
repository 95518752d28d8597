package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync"
	"time"
)

// Reader reads a journal. It never writes, and works beside a bridge that does. Its methods are safe for concurrent
// use.
type Reader struct {
	db     *sql.DB
	layout int64

	mu    sync.Mutex
	names names
}

// OpenReader opens the journal for reading only.
func OpenReader(ctx context.Context, path string) (*Reader, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) { // Stat opens nothing
		return nil, fmt.Errorf("open journal %s: there is no such file; correct the path, or start the bridge once", path)
	}
	r, err := openPool(path)
	if err != nil {
		return nil, err
	}
	var id, version int64
	err = r.db.QueryRowContext(ctx, "SELECT * FROM pragma_application_id, pragma_user_version").Scan(&id, &version)
	if err == nil {
		r.layout, err = version, recognise(id, version)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open journal %s: %w", path, explain(err)), r.Close())
	}
	return r, nil
}

func openPool(path string) (*Reader, error) {
	db, err := openWhole(dsn(path, "mode=ro", "_pragma=busy_timeout(5000)", "_pragma=query_only(1)", "_pragma=cache_size(-256)"))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(4)
	db.SetMaxIdleConns(4)
	db.SetConnMaxIdleTime(10 * time.Second) // what is delivered at once is not read from the file
	return &Reader{db: db, layout: schemaVersion}, nil
}

// Close closes the reader.
func (r *Reader) Close() error { return r.db.Close() }
