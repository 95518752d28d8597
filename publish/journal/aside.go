package journal

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"manobridge/convert"
)

// damage says that the file is a journal that cannot be relied on.
type damage struct{ why error }

func (d *damage) Error() string {
	return fmt.Sprintf("the file is damaged (%v); move it and its -wal aside to start a new one, and keep it for recovery", d.why)
}

func (d *damage) Unwrap() error { return d.why }

// The parts of the database header that tell what a file is before SQLite opens it. Source: sqlite.org/fileformat2.html,
// 1.3.
const (
	headerSize        = 100
	headerPageSize    = 16
	headerCounter     = 24
	headerPages       = 28
	headerApplication = 68
	headerValidFor    = 92
)

// look reads the header of a file that this process has not opened with SQLite yet (afterwards it would drop its locks).
// ours tells whether the file says that it is a journal; short whether its end is missing.
func look(path string) (ours bool, short error) {
	f, err := os.Open(path)
	if err != nil {
		return false, nil
	}
	defer f.Close()
	var h [headerSize]byte
	if _, err := io.ReadFull(f, h[:]); err != nil {
		return false, nil
	}
	ours = binary.BigEndian.Uint32(h[headerApplication:]) == applicationID
	if wal, err := os.Stat(path + "-wal"); err == nil && wal.Size() > 0 {
		return ours, nil // pages may be in the log only
	}
	info, err := f.Stat()
	if err != nil || binary.BigEndian.Uint32(h[headerCounter:]) != binary.BigEndian.Uint32(h[headerValidFor:]) {
		return ours, nil
	}
	size := int64(binary.BigEndian.Uint16(h[headerPageSize:]))
	if size == 1 {
		size = 65536
	}
	if want := size * int64(binary.BigEndian.Uint32(h[headerPages:])); info.Size() < want {
		return ours, fmt.Errorf("it has %d bytes of %d", info.Size(), want)
	}
	return ours, nil
}

// isDamage tells whether err says that the file is not what was written.
func isDamage(err error) bool {
	var d *damage
	code := sqliteCode(err)
	return errors.As(err, &d) || code == codeCorrupt || code == codeNotADB
}

// setAside renames the file and its log, which are never deleted, and gives the new name. SQLite still holds them: it
// sees that its file was moved, and leaves the log as it is when it closes.
func (j *Journal) setAside() (string, error) {
	to := j.opt.Path + ".aside-" + j.opt.Now().UTC().Format("20060102T150405Z")
	for i := 2; exists(to); i++ {
		to = fmt.Sprintf("%s.aside-%s-%d", j.opt.Path, j.opt.Now().UTC().Format("20060102T150405Z"), i)
	}
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Rename(j.opt.Path+end, to+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("set the damaged file aside: %w", err)
		}
	}
	return to, nil
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// The codes of the events that the journal records of itself.
const (
	EventSetAside    = "journal-set-aside"
	EventRowsMissing = "journal-rows-missing"
	EventDamaged     = "journal-damaged"
)

// CauseJournalLost is the cause of the gap for results that were in the journal and are not any more.
const CauseJournalLost convert.Cause = "journal-lost"

// tell records an event of the journal itself, logs it, and passes it on. It runs before the writer's goroutine does.
func (j *Journal) tell(ctx context.Context, code, note string, gaps []Gap) error {
	e := Event{Run: j.opt.Run, Time: j.opt.Now(), Code: code, Note: note}
	err := j.w.transact(ctx, func() error {
		for _, g := range gaps {
			if _, err := j.w.insertGap(g); err != nil {
				return err
			}
		}
		return j.w.insertEvent(e)
	})
	j.opt.Logger.Error(note, "code", code, "gaps", len(gaps))
	j.opt.Notice(e)
	return err
}

// goOn makes the numbers of a new or shorter file go on above those of the one before, so that no cursor and no name
// meets a number twice, and takes over from a damaged one what can still be read: small states, zeros, acts.
func (j *Journal) goOn(ctx context.Context, m mark, aside string, why error) error {
	w := j.w
	had := w.lastID
	if had < m.LastRow {
		err := w.transact(ctx, func() error {
			touched, err := affected(w.conn.ExecContext(ctx, "UPDATE sqlite_sequence SET seq = ? WHERE name = 'reading'", m.LastRow))
			if err == nil && touched == 0 {
				_, err = w.conn.ExecContext(ctx, "INSERT INTO sqlite_sequence (name, seq) VALUES ('reading', ?)", m.LastRow)
			}
			return err
		})
		if err != nil {
			return err
		}
		w.lastID, w.last = m.LastRow, m.LastRow
	}
	switch {
	case aside != "":
		gaps := j.undelivered(ctx, aside, m)
		taken := j.salvage(ctx, aside)
		if err := w.load(ctx, w.conn); err != nil { // some of what was taken over has numbers
			return err
		}
		var d *damage
		if errors.As(why, &d) {
			why = d.why
		}
		note := fmt.Sprintf("the journal is damaged (%v); it was set aside as %s and a new one was begun; %s; taken over: %s; keep the file for recovery",
			why, aside, sayUndelivered(gaps), taken)
		return j.tell(ctx, EventSetAside, note, gaps)
	case had < m.LastRow:
		var gaps []Gap
		known := map[string]Tail{}
		for _, t := range w.tails() {
			known[t.Instrument] = t
		}
		for name, t := range m.Tails {
			if t.Row <= had {
				continue
			}
			g := Gap{Instrument: name, Run: t.Run, Cause: CauseJournalLost, FromSeq: 1, UntilSeq: t.Seq, From: unixTime(t.AtNS), Until: unixTime(t.AtNS),
				Note: "readings that were in the journal are not in it any more"}
			if k, ok := known[name]; ok {
				g.From = k.ReceivedAt
				if k.Run == t.Run {
					g.FromSeq = k.Seq + 1
				}
			}
			if g.From.After(g.Until) {
				g.From = g.Until
			}
			g.Count = int64(g.UntilSeq-g.FromSeq) + 1
			gaps = append(gaps, g)
		}
		least := "at least " // the mark follows at a distance, but for the last one
		if m.Clean {
			least = ""
		}
		note := fmt.Sprintf("the journal ends at row %d and had reached row %d: %s%d results are missing from it; "+
			"its -wal was removed, or an older copy was put in its place", had, m.LastRow, least, m.LastRow-had)
		return j.tell(ctx, EventRowsMissing, note, gaps)
	}
	return nil
}

// undelivered gives, per instrument, what a file set aside holds that not every sink has got. Where the file cannot be
// read the mark tells up to where.
func (j *Journal) undelivered(ctx context.Context, aside string, m mark) []Gap {
	if len(j.opt.Sinks) == 0 {
		return nil
	}
	low := m.LastRow
	for _, sink := range j.opt.Sinks {
		low = min(low, m.Cursors[sink])
	}
	note := "not delivered to every sink before the journal was damaged; they are in " + aside
	var gaps []Gap
	r, err := OpenReader(ctx, aside)
	if err == nil {
		gaps, err = collect(ctx, r.db, func(rows *sql.Rows, g *Gap) error {
			var from, until int64
			err := rows.Scan(&g.Run, &g.Instrument, &g.FromSeq, &g.UntilSeq, &from, &until, &g.Count)
			g.Cause, g.From, g.Until, g.Note = CauseJournalLost, unixTime(from), unixTime(until), note
			return err
		}, undeliveredQuery, low, int64(maxRow))
		r.Close()
	}
	if err == nil {
		return gaps
	}
	gaps = nil
	for name, t := range m.Tails {
		if t.Row > low {
			gaps = append(gaps, Gap{Instrument: name, Run: t.Run, Cause: CauseJournalLost, UntilSeq: t.Seq,
				From: unixTime(t.AtNS), Until: unixTime(t.AtNS), Note: note + "; how many cannot be read"})
		}
	}
	return gaps
}

// undeliveredQuery tells what rows after one and up to another hold, per run and instrument.
const undeliveredQuery = `SELECT run.name, instrument.name, min(seq), max(seq), min(wall_ns), max(wall_ns), count(*)
	FROM reading JOIN stream ON stream.id = reading.stream JOIN run ON run.id = stream.run
	JOIN instrument ON instrument.id = stream.instrument
	WHERE reading.id > ? AND reading.id <= ? GROUP BY stream.id ORDER BY stream.id`

func sayUndelivered(gaps []Gap) string {
	if len(gaps) == 0 {
		return "every sink had got all of it"
	}
	parts := make([]string, len(gaps))
	for i, g := range gaps {
		parts[i] = fmt.Sprintf("%s seq %d to %d", g.Instrument, g.FromSeq, g.UntilSeq)
	}
	return "not delivered to every sink, and recorded as gaps: " + strings.Join(parts, ", ")
}

// salvage takes over small tables from a file set aside, each as a whole or not at all, and says which.
func (j *Journal) salvage(ctx context.Context, aside string) string {
	r, err := OpenReader(ctx, aside)
	if err != nil {
		return "nothing, it cannot be opened"
	}
	defer r.Close()
	var taken []string
	for _, t := range []struct{ table, columns string }{
		{"kept", "name, value, wall_ns"},
		{"zero_taken", "*"},
		{"act", "*"},
		{"excursion", "*"},
		{"coefficient_set", "hash, instrument, text"},
	} {
		if j.copyTable(ctx, r, t.table, t.columns) == nil {
			taken = append(taken, t.table)
		}
	}
	if len(taken) == 0 {
		return "nothing, it cannot be read"
	}
	return strings.Join(taken, ", ")
}

func (j *Journal) copyTable(ctx context.Context, from *Reader, table, columns string) error {
	var all [][]any
	var width int
	err := each(ctx, from.db, func(rows *sql.Rows) error {
		names, err := rows.Columns()
		width = len(names)
		values := make([]any, width)
		into := make([]any, width)
		for i := range values {
			into[i] = &values[i]
		}
		all = append(all, values)
		return errors.Join(err, rows.Scan(into...))
	}, "SELECT "+columns+" FROM "+table)
	if err != nil || len(all) == 0 {
		return err
	}
	into := table
	if columns != "*" {
		into += " (" + columns + ")"
	}
	return j.w.transact(ctx, func() error {
		for _, values := range all {
			_, err := j.conn.ExecContext(ctx, "INSERT OR IGNORE INTO "+into+" VALUES ("+strings.TrimSuffix(strings.Repeat("?,", width), ",")+")", values...)
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// checked is how a check of the whole file ended.
type checked struct {
	problem string // empty: none
	err     error
	took    time.Duration
}

// check reads the whole file. It takes about a second for each 100 MB, so it goes on while the bridge works.
func (j *Journal) check(ctx context.Context) (c checked) {
	began := time.Now()
	var problem string
	c.err = j.Reader.db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&problem)
	c.took = time.Since(began)
	switch {
	case isDamage(c.err):
		c.problem, c.err = c.err.Error(), nil
	case c.err == nil && problem != "ok":
		c.problem = problem
	}
	return c
}

// later tells what a check found that had not ended at the start.
func (j *Journal) later(ctx context.Context, c checked) {
	log := j.opt.Logger
	switch {
	case c.err != nil:
		return // closed meanwhile, or busy: the next start checks again
	case c.problem == "":
		log.Debug("the whole journal was checked; it is sound", "code", "journal-sound", "took_s", c.took.Seconds())
		return
	}
	j.w.mu.Lock()
	j.w.damaged = c.problem
	j.w.mu.Unlock()
	note := "the journal is damaged (" + c.problem + "); it is set aside at the next start, and what is not delivered by then is recorded as a gap; " +
		"make a copy, check the disk, and restart soon"
	e := Event{Run: j.opt.Run, Time: j.opt.Now(), Code: EventDamaged, Note: note}
	log.Error(note, "code", EventDamaged)
	j.opt.Notice(e)
	_ = j.RecordEvent(ctx, e) // a damaged file may refuse; the log has it, and so has the mark
}
