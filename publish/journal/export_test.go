package journal

import (
	"context"
	"fmt"
)

// LimitPages makes the database refuse to grow past n pages, as a full disk does (SQLITE_FULL). It goes between two
// statements of the writer, whose connection it uses.
func (j *Journal) LimitPages(n int) error {
	var now int
	return j.conn.QueryRowContext(context.Background(), fmt.Sprintf("PRAGMA max_page_count = %d", n)).Scan(&now)
}
