package operate

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync"
)

// The forms of a log.
const (
	TextLog = "text" // key=value
	JSONLog = "json" // one object a line
)

// NewLogger makes a log of one line per record. Where w is the journal of systemd each text line begins with its priority,
// and the time is left out, as the journal has it. Source: sd-daemon(3), systemd.exec(5) $JOURNAL_STREAM.
func NewLogger(w io.Writer, form string, level slog.Level) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	switch {
	case form == JSONLog:
		return slog.New(slog.NewJSONHandler(w, o))
	case !isJournal(w, os.Getenv("JOURNAL_STREAM")):
		return slog.New(slog.NewTextHandler(w, o))
	}
	return slog.New(newJournalHandler(w, o))
}

// priorities are those of syslog(3), from the highest level down.
var priorities = [...]struct {
	from   slog.Level
	prefix string
}{{slog.LevelError, "<3>"}, {slog.LevelWarn, "<4>"}, {slog.LevelInfo, "<6>"}, {slog.LevelDebug, "<7>"}}

// journalHandler has a handler for each priority, as the prefix stands before what a handler writes.
type journalHandler [len(priorities)]slog.Handler

func newJournalHandler(w io.Writer, o *slog.HandlerOptions) slog.Handler {
	without := *o
	without.ReplaceAttr = func(groups []string, a slog.Attr) slog.Attr {
		if len(groups) == 0 && a.Key == slog.TimeKey {
			return slog.Attr{}
		}
		return a
	}
	var h journalHandler
	var mu sync.Mutex
	for i, p := range priorities {
		h[i] = slog.NewTextHandler(&prefixed{mu: &mu, to: w, prefix: p.prefix}, &without)
	}
	return h
}

func (h journalHandler) of(level slog.Level) slog.Handler {
	for i, p := range priorities {
		if level >= p.from {
			return h[i]
		}
	}
	return h[len(h)-1]
}

func (h journalHandler) each(change func(slog.Handler) slog.Handler) slog.Handler {
	for i := range h {
		h[i] = change(h[i])
	}
	return h
}

// Enabled is that of slog.Handler.
func (h journalHandler) Enabled(ctx context.Context, level slog.Level) bool {
	return h.of(level).Enabled(ctx, level)
}

// Handle is that of slog.Handler.
func (h journalHandler) Handle(ctx context.Context, r slog.Record) error {
	return h.of(r.Level).Handle(ctx, r)
}

// WithAttrs is that of slog.Handler.
func (h journalHandler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return h.each(func(one slog.Handler) slog.Handler { return one.WithAttrs(attrs) })
}

// WithGroup is that of slog.Handler.
func (h journalHandler) WithGroup(name string) slog.Handler {
	return h.each(func(one slog.Handler) slog.Handler { return one.WithGroup(name) })
}

// prefixed writes each line, which comes in one call, with its prefix in one call.
type prefixed struct {
	mu     *sync.Mutex
	to     io.Writer
	prefix string
}

// Write is that of io.Writer.
func (p *prefixed) Write(line []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	_, err := p.to.Write(append([]byte(p.prefix), line...))
	return len(line), err
}

// isJournal tells whether w is the stream that systemd named by device and inode.
func isJournal(w io.Writer, stream string) bool {
	f, ok := w.(*os.File)
	if !ok || stream == "" {
		return false
	}
	device, inode, ok := fileID(f)
	return ok && stream == fmt.Sprintf("%d:%d", device, inode)
}
