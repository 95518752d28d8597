package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// Durability says what survives a power failure. What the program has committed survives its own end in either case.
type Durability string

const (
	// Strict flushes every commit to the disk (synchronous=FULL): nothing committed is lost, if the disk honours
	// flushes.
	Strict Durability = "strict"
	// Relaxed flushes at checkpoints only (synchronous=NORMAL): fewer writes for a memory card; the last seconds may
	// be lost when the power fails, and the file is never damaged.
	Relaxed Durability = "relaxed"
)

// Options tell how to open a journal for writing. Path, Run and Bridge must be set.
type Options struct {
	Path       string
	Durability Durability // default Strict

	Run     string    // name of this start of the bridge, unique for ever
	Bridge  string    // this bridge among others of the site
	Started time.Time // wall time of the start, the zero of Reading.SinceStart; default now

	// Held bounds how many results wait in memory while the disk is full; default 16 384. Past that the oldest are
	// given up and counted as a gap.
	Held int
	// Group bounds how many results one commit takes; default 500.
	Group int
	// Retry is the pause before a failed commit is tried again; default 1 s.
	Retry time.Duration

	// Sinks are the names of the configured sinks: what one of them has not got is not pruned, and is named where it is
	// lost.
	Sinks []string

	// Bounds say how much is kept; default everything.
	Bounds Bounds

	// CheckWithin is how long opening waits for the check of the whole file; default 300 ms. What takes longer goes on
	// beside the work.
	CheckWithin time.Duration
	// MarkEvery is how often the high-water mark beside the file is brought up to date; default 5 s.
	MarkEvery time.Duration

	// Notice is told of every event that the journal records of itself. It must not block. Default: none.
	Notice func(Event)
	Logger *slog.Logger     // default: none
	Now    func() time.Time // default time.Now

	tool bool // no run is started
}

func (o *Options) fill() error {
	switch {
	case o.Path == "":
		return errors.New("journal: no path given")
	case o.Run == "" && !o.tool:
		return errors.New("journal: no run given")
	case o.Bridge == "":
		return errors.New("journal: no bridge given")
	}
	switch o.Durability {
	case "":
		o.Durability = Strict
	case Strict, Relaxed:
	default:
		return fmt.Errorf("journal: durability %q; allowed: strict, relaxed", o.Durability)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Started.IsZero() {
		o.Started = o.Now()
	}
	if o.Held <= 0 {
		o.Held = 16384
	}
	if o.Group <= 0 {
		o.Group = 500
	}
	if o.Retry <= 0 {
		o.Retry = time.Second
	}
	if o.Bounds.every <= 0 {
		o.Bounds.every = time.Minute
	}
	if o.Bounds.free == nil {
		o.Bounds.free = diskFree
	}
	if o.CheckWithin <= 0 {
		o.CheckWithin = 300 * time.Millisecond
	}
	if o.MarkEvery <= 0 {
		o.MarkEvery = 5 * time.Second
	}
	if o.Notice == nil {
		o.Notice = func(Event) {}
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	return nil
}

// Journal is open for writing. Its methods are safe for concurrent use. Close it last, after the sinks.
type Journal struct {
	*Reader
	opt      Options
	lockFile *os.File
	db       *sql.DB
	conn     *sql.Conn
	w        *writer
	previous []Tail
	opened   atomic.Int64 // gaps, since Open

	work     context.Context // of what goes on beside the writer while the file is open
	stopWork func()
	working  sync.WaitGroup

	once     sync.Once
	closeErr error
}

// Open opens the journal, making it where there is none, and starts the run. Nothing is changed where it fails.
func Open(ctx context.Context, opt Options) (*Journal, error) { return openJournal(ctx, opt) }

func openJournal(ctx context.Context, opt Options) (*Journal, error) {
	if err := opt.fill(); err != nil {
		return nil, err
	}
	dir := filepath.Dir(opt.Path)
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("open journal %s: the directory %s does not exist; make it, or correct the path", opt.Path, dir)
	}
	lockFile, err := lock(opt.Path+".lock", opt.Bridge, opt.Now())
	if err != nil {
		return nil, err
	}
	j := &Journal{opt: opt, lockFile: lockFile}
	if err := j.open(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("open journal %s: %w", opt.Path, err), j.release())
	}
	return j, nil
}

// identify makes the tables of an empty file, brings an earlier layout forward, and refuses a file that is something
// else.
func (j *Journal) identify(ctx context.Context, m mark) error {
	var id, version, tables int64
	row := j.conn.QueryRowContext(ctx, "SELECT * FROM pragma_application_id, pragma_user_version, (SELECT count(*) FROM sqlite_schema)")
	if err := row.Scan(&id, &version, &tables); err != nil {
		return explain(err)
	}
	empty := id == 0 && version == 0 && tables == 0
	if !empty {
		if err := recognise(id, version); err != nil {
			if m.Layout > 0 && id != applicationID {
				return &damage{errors.New("its header is not that of a journal, and it was one")}
			}
			return err
		}
	}
	if version == schemaVersion {
		return nil
	}
	script := strings.Join(steps[version:], "")
	_, err := j.conn.ExecContext(ctx, fmt.Sprintf("BEGIN IMMEDIATE; %s PRAGMA application_id = %d; PRAGMA user_version = %d; COMMIT",
		script, applicationID, schemaVersion))
	if err != nil {
		j.conn.ExecContext(ctx, "ROLLBACK")
		if empty {
			return fmt.Errorf("make the tables: %w", err)
		}
		return fmt.Errorf("bring the journal from layout %d to %d: %w; nothing was changed", version, schemaVersion, err)
	}
	if !empty {
		j.opt.Logger.Info("journal was brought to the layout of this program; earlier programs cannot write it any more",
			"code", "journal-layout", "from", version, "to", schemaVersion)
	}
	return nil
}

func recognise(id, version int64) error {
	switch {
	case id != applicationID:
		return errors.New("the file is a database, but not a journal of this program; nothing was changed; correct the path")
	case version > schemaVersion:
		return fmt.Errorf("the journal has layout %d, this program knows up to %d; nothing was changed; use the later program", version, schemaVersion)
	case version < 1:
		return fmt.Errorf("the journal has layout %d, which was never used; nothing was changed", version)
	}
	return nil
}

// dsn gives the data source name; a path may hold any character.
func dsn(path string, query ...string) string {
	abs, err := filepath.Abs(path)
	if err != nil {
		abs = path
	}
	return "file:" + (&url.URL{Path: abs}).EscapedPath() + "?" + strings.Join(query, "&")
}

// explain adds what a person can do to what the database says.
func explain(err error) error {
	switch code := sqliteCode(err); code {
	case codeNotADB:
		return fmt.Errorf("the file is not a database; nothing was changed; correct the path: %w", err)
	case codeCorrupt:
		return fmt.Errorf("the file is damaged; move it and its -wal aside to start a new one, and keep it for recovery: %w", err)
	case codeCannotOpen, codeReadOnly:
		return fmt.Errorf("the file cannot be written; check who may write it and its directory: %w", err)
	}
	return err
}

// Primary result codes of SQLite. Source: sqlite.org/rescode.html.
const (
	codeReadOnly   = 8
	codeCorrupt    = 11
	codeFull       = 13
	codeCannotOpen = 14
	codeNotADB     = 26
)

// sqliteCode gives the primary result code, or 0 for an error from elsewhere.
func sqliteCode(err error) int {
	var coder interface{ Code() int }
	if errors.As(err, &coder) {
		return coder.Code() & 0xff
	}
	return 0
}
