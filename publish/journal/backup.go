package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Copied is what a backup holds.
type Copied struct {
	Rows     int64 // results
	From, To int64 // numbers of the first and the last
	Bytes    int64
}

// Backup writes a copy of the journal at path to dest, also while a bridge writes it, and reads the copy back: every
// page, and as many results as there are. What is committed while it is being copied may or may not be in it. dest must
// not exist; it appears only once it is whole, flushed and checked.
//
// To restore: stop the bridge, put the copy in the place of the journal (move the old one with its -wal, -shm aside, leave
// the .mark), start the bridge. It goes on from the cursors of the copy. What came after the copy is missing from it: the
// mark tells, and gaps name it.
func Backup(ctx context.Context, path, dest string) (Copied, error) {
	for _, name := range []string{dest, dest + "-wal"} {
		if _, err := os.Lstat(name); err == nil {
			return Copied{}, fmt.Errorf("backup to %s: %s exists and is not overwritten; nothing was changed; name another file", dest, name)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return Copied{}, fmt.Errorf("backup to %s: %w", dest, err)
		}
	}
	from, err := OpenReader(ctx, path)
	if err != nil {
		return Copied{}, err
	}
	defer from.Close()
	part := dest + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) { // of a backup that was broken off
		return Copied{}, fmt.Errorf("backup to %s: %w", dest, err)
	}
	c, err := copyTo(ctx, from, path, part)
	if err == nil {
		err = settle(part, dest)
	}
	if err != nil {
		if gone := os.Remove(part); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
		return Copied{}, fmt.Errorf("backup to %s: %w; no copy was made", dest, err)
	}
	return c, nil
}

// copyTo writes the copy and reads it back.
func copyTo(ctx context.Context, from *Reader, path, part string) (Copied, error) {
	db, err := sql.Open("sqlite", dsn(path, "mode=ro", "_pragma=busy_timeout(5000)"))
	if err != nil {
		return Copied{}, err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", part)
	if err = errors.Join(err, db.Close()); err != nil {
		return Copied{}, explainWrite(err)
	}
	to, err := OpenReader(ctx, part)
	if err != nil {
		return Copied{}, err
	}
	c, err := compare(ctx, from, to)
	if err = errors.Join(err, to.Close()); err != nil {
		return c, err
	}
	info, err := os.Stat(part)
	if err == nil {
		c.Bytes = info.Size()
	}
	return c, err
}

// compare reads every page of the copy and counts the results on both sides.
func compare(ctx context.Context, from, to *Reader) (c Copied, err error) {
	var problem string
	if err := to.db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&problem); err != nil {
		return c, fmt.Errorf("read the copy back: %w", err)
	}
	if problem != "ok" {
		return c, fmt.Errorf("the copy is damaged (%s); check the disk", problem)
	}
	const count = "SELECT count(*), coalesce(min(id), 0), coalesce(max(id), 0) FROM reading WHERE id BETWEEN ? AND ?"
	if err := to.db.QueryRowContext(ctx, count, 0, int64(maxRow)).Scan(&c.Rows, &c.From, &c.To); err != nil {
		return c, fmt.Errorf("read the copy back: %w", err)
	}
	var there, first, last int64
	if err := from.db.QueryRowContext(ctx, count, c.From, c.To).Scan(&there, &first, &last); err != nil {
		return c, fmt.Errorf("count the results: %w", err)
	}
	here := c.Rows
	if there > 0 && first > c.From { // pruned meanwhile: what is left must agree
		if err := to.db.QueryRowContext(ctx, count, first, c.To).Scan(&here, &first, &last); err != nil {
			return c, fmt.Errorf("read the copy back: %w", err)
		}
	}
	if there != here {
		return c, fmt.Errorf("the copy has %d results from row %d to %d, the journal %d; check the disk", here, c.From, c.To, there)
	}
	return c, nil
}

// settle flushes the copy and gives it its name, which must be free still.
func settle(part, dest string) error {
	f, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Link(part, dest); err != nil { // unlike a rename it replaces nothing
		return err
	}
	return errors.Join(os.Remove(part), syncDir(filepath.Dir(dest)))
}

// syncDir flushes the names in a directory.
func syncDir(path string) error {
	dir, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(dir.Sync(), dir.Close())
}
