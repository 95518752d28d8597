package journal

import (
	"context"
	"fmt"
	"time"
)

// LimitPages makes the database refuse to grow past n pages, as a full disk does (SQLITE_FULL). It goes between two
// statements of the writer, whose connection it uses.
func (j *Journal) LimitPages(n int) error {
	var now int
	return j.conn.QueryRowContext(context.Background(), fmt.Sprintf("PRAGMA max_page_count = %d", n)).Scan(&now)
}

// ForTest gives bounds that are looked after in short turns, on a disk of which free tells the room.
func (b Bounds) ForTest(every time.Duration, free func() int64) Bounds {
	b.every = every
	if free != nil {
		b.free = func(string) (int64, error) { return free(), nil }
	}
	return b
}
