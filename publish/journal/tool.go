package journal

import (
	"context"
	"log/slog"
	"time"
)

// OpenTool opens a journal for a command that adds to what is there (results computed anew, a restored state) while no
// bridge runs on it: it takes the lock as a bridge does, and starts no run. what names the command to whoever finds the
// journal in use. A journal that is not there is not made.
func OpenTool(ctx context.Context, path, what string, log *slog.Logger) (*Journal, error) {
	r, err := OpenReader(ctx, path) // says what is wrong with the file without changing it
	if err != nil {
		return nil, err
	}
	if err := r.Close(); err != nil {
		return nil, err
	}
	return openJournal(ctx, Options{Path: path, Bridge: what, Logger: log, Started: time.Now(), tool: true})
}
