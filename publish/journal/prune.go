package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"manobridge/convert"
)

// Bounds say how much a journal keeps. The zero value keeps everything.
//
// Whole spans of 512 readings are taken away, the oldest first, with their frames, averages and results computed anew.
// Age and disk take only what every configured sink has got. Size takes more when it must: what a sink had not got is
// then recorded as a gap with seqs and times. Runs, gaps, events, acts, zeros, excursions and coefficient sets stay; they
// are small. What was put aside stays named, with the reason. Numbers of rows are never used again.
type Bounds struct {
	Age time.Duration // older readings go; 0: none
	// Size bounds the pages in use, in bytes; 0: no bound. The write-ahead log comes on top, 16 MiB at most when nobody
	// reads.
	Size int64
	// Free is how much of the disk is to stay free, in bytes; 0: no matter. A full disk cannot even delete, so readings
	// go before it is full. Nothing younger than a day goes for it.
	Free int64

	every time.Duration // default a minute
	free  func(dir string) (int64, error)
}

func (b Bounds) any() bool { return b.Age > 0 || b.Size > 0 || b.Free > 0 }

const (
	// pruneYoungest is how old a reading is at least that goes for the sake of the disk.
	pruneYoungest = 24 * time.Hour
	// pruneSlow is how long one piece of pruning may take before the next is made smaller: appends wait for it.
	pruneSlow = 30 * time.Millisecond
	// pruneMost bounds a piece, in spans.
	pruneMost = 4
)

// The codes of what pruning has to say.
const (
	EventPruned   = "journal-pruned"
	EventDiskLow  = "disk-low"
	EventDiskRoom = "disk-room"
)

// CauseJournalPruned is the cause of the gap that results leave which were given up before every sink had got them.
const CauseJournalPruned convert.Cause = "journal-pruned"

// pruner belongs to one goroutine.
type pruner struct {
	j      *Journal
	spans  int               // in the next piece
	low    bool              // disk-low was told
	forced int64             // results given up since that was told; 0: none
	gaps   map[int64]growing // by stream
}

// growing is a gap that the next results given up may follow on.
type growing struct {
	id    int64
	until uint64 // seq
}

// prune keeps the journal within its bounds until ctx ends.
func (j *Journal) prune(ctx context.Context) {
	p := &pruner{j: j, spans: 1, gaps: map[int64]growing{}}
	tick := time.NewTicker(j.opt.Bounds.every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if err := p.round(ctx); err != nil && ctx.Err() == nil && !errors.Is(err, ErrClosed) {
			j.opt.Logger.Warn("the journal could not be pruned; it is tried again", "code", "journal-unpruned", "reason", err.Error())
		}
	}
}

// piece is the oldest closed spans.
type piece struct{ first, last, maxNS, spans int64 }

// oldest gives up to n of the oldest closed spans.
func (r *Reader) oldest(ctx context.Context, n int) (p piece, err error) {
	err = r.db.QueryRowContext(ctx, `SELECT coalesce(min(first_id), 0), coalesce(max(last_id), 0), coalesce(max(max_ns), 0), count(*)
		FROM (SELECT first_id, last_id, max_ns FROM span ORDER BY first_id LIMIT ?)`, n).Scan(&p.first, &p.last, &p.maxNS, &p.spans)
	return p, err
}

// used gives the bytes of the pages in use.
func (r *Reader) used(ctx context.Context) (n int64, err error) {
	err = r.db.QueryRowContext(ctx, "SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size").Scan(&n)
	return n, err
}

// floor gives the row up to which every configured sink has got everything.
func (w *writer) floor() int64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	low := w.last
	for _, sink := range w.sinks {
		low = min(low, w.passed[sink])
	}
	return low
}

func (w *writer) bounds() Bounds {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.keep
}

// Configure sets anew how much is kept and for which sinks.
func (j *Journal) Configure(b Bounds, sinks []string) {
	j.w.mu.Lock()
	defer j.w.mu.Unlock()
	b.every, b.free = j.opt.Bounds.every, j.opt.Bounds.free
	j.w.keep, j.w.sinks = b, slices.Clone(sinks)
}

// round prunes until the journal is within its bounds, or nothing more may go.
func (p *pruner) round(ctx context.Context) error {
	j := p.j
	b := j.w.bounds()
	if !b.any() {
		return nil
	}
	now := j.opt.Now()
	free := int64(math.MaxInt64)
	if b.Free > 0 {
		var err error
		if free, err = b.free(filepath.Dir(j.opt.Path)); err != nil {
			return err
		}
	}
	room := free >= b.Free
	stuck, behind := false, false
	for ctx.Err() == nil {
		size, err := j.used(ctx)
		if err != nil {
			return err
		}
		next, err := j.oldest(ctx, p.spans)
		if err != nil {
			return err
		}
		aged := b.Age > 0 && next.maxNS < now.Add(-b.Age).UnixNano()
		big := b.Size > 0 && size > b.Size
		low := free < b.Free
		stuck = low && (next.spans == 0 || next.maxNS >= now.Add(-pruneYoungest).UnixNano())
		floor := j.w.floor()
		behind = next.last > floor
		keep := next.spans == 0 || !aged && !big && (!low || stuck)
		if next.spans > 1 && (keep || behind) { // a smaller piece may go, or end before it
			p.spans = 1
			continue
		}
		if keep {
			break
		}
		if behind && !big {
			stuck = low
			break
		}
		began := time.Now()
		if err := p.takeAway(ctx, next, floor); err != nil {
			return err
		}
		if after, err := j.used(ctx); err == nil && b.Free > 0 {
			free += max(0, size-after)
		}
		if took := time.Since(began); took > pruneSlow {
			p.spans = max(1, p.spans/2)
		} else {
			p.spans = min(pruneMost, p.spans*2)
		}
	}
	if b.Age > 0 {
		if err := j.pruneRefusals(ctx, now.Add(-b.Age)); err != nil {
			return err
		}
	}
	p.tell(ctx, stuck, behind, room, free)
	return ctx.Err()
}

// takeAway removes a piece. What of it lies above floor is recorded as gaps, one for each instrument while it goes on.
func (p *pruner) takeAway(ctx context.Context, next piece, floor int64) error {
	type missing struct {
		stream int64
		gap    Gap
	}
	var lost []missing
	var grown map[int64]growing
	err := p.j.do(ctx, func(w *writer) error {
		ctx := context.Background()
		lost, grown = nil, map[int64]growing{}
		w.recent.forget(next.last) // before they are gone, so that none is delivered from memory after that
		if next.last > floor {
			if err := each(ctx, w.conn, func(rows *sql.Rows) error {
				m := missing{gap: Gap{Cause: CauseJournalPruned, Note: "given up for keep_size_mb before every sink had got them"}}
				var from, until int64
				err := rows.Scan(&m.gap.Run, &m.gap.Instrument, &m.gap.FromSeq, &m.gap.UntilSeq, &from, &until, &m.gap.Count, &m.stream)
				m.gap.From, m.gap.Until = unixTime(from), unixTime(until)
				lost = append(lost, m)
				return err
			}, strings.Replace(undeliveredQuery, "count(*)", "count(*), stream.id", 1), max(floor, next.first-1), next.last); err != nil {
				return err
			}
		}
		for _, m := range lost {
			if g, ok := p.gaps[m.stream]; ok && g.until+1 == m.gap.FromSeq {
				if _, err := w.conn.ExecContext(ctx, "UPDATE gap SET until_seq = ?, until_ns = max(until_ns, ?), count = count + ? WHERE id = ?",
					int64(m.gap.UntilSeq), m.gap.Until.UnixNano(), m.gap.Count, g.id); err != nil {
					return err
				}
				grown[m.stream] = growing{g.id, m.gap.UntilSeq}
				continue
			}
			id, err := w.insertGap(m.gap)
			if err != nil {
				return err
			}
			grown[m.stream] = growing{id, m.gap.UntilSeq}
		}
		for _, statement := range []string{
			"DELETE FROM recomputed WHERE generation IN (SELECT id FROM generation) AND reading BETWEEN ? AND ?",
			"DELETE FROM average WHERE reading BETWEEN ? AND ?",
			"DELETE FROM reading WHERE id BETWEEN ? AND ?",
			"DELETE FROM span WHERE first_id BETWEEN ? AND ?",
		} {
			if _, err := w.conn.ExecContext(ctx, statement, next.first, next.last); err != nil {
				return err
			}
		}
		// It frees one page at each step, so it must be read to its end.
		return each(ctx, w.conn, func(*sql.Rows) error { return nil }, fmt.Sprintf("PRAGMA incremental_vacuum(%d)", 24*next.spans))
	})
	if err != nil {
		return err
	}
	maps.Copy(p.gaps, grown)
	for _, m := range lost {
		if p.forced == 0 {
			p.j.event(ctx, EventPruned, fmt.Sprintf("results are given up for keep_size_mb before every sink has got them, %s from seq %d on first; "+
				"gaps name them; look why a sink is behind, or allow more", m.gap.Instrument, m.gap.FromSeq))
		}
		p.forced += m.gap.Count
	}
	return nil
}

// pruneRefusals removes what belonged to no instrument and is older than the bound, a piece in each round.
func (j *Journal) pruneRefusals(ctx context.Context, before time.Time) error {
	var first int64
	err := j.Reader.db.QueryRowContext(ctx, "SELECT coalesce((SELECT wall_ns FROM port_refusal ORDER BY id LIMIT 1), ?)", int64(math.MaxInt64)).Scan(&first)
	if err != nil || first >= before.UnixNano() {
		return err
	}
	return j.do(ctx, func(w *writer) error {
		_, err := w.conn.ExecContext(context.Background(),
			"DELETE FROM port_refusal WHERE wall_ns < ? AND id IN (SELECT id FROM port_refusal ORDER BY id LIMIT 2000)", before.UnixNano())
		return err
	})
}

// tell says what changed: once when it begins, and once when it is over.
func (p *pruner) tell(ctx context.Context, stuck, behind, room bool, free int64) {
	if !behind && p.forced > 0 {
		p.j.opt.Logger.Info("every sink has come to what the journal still has; nothing more is given up", "code", EventPruned, "given_up", p.forced)
		p.forced = 0
		clear(p.gaps)
	}
	switch {
	case stuck && !p.low:
		p.low = true
		p.j.event(ctx, EventDiskLow, fmt.Sprintf("%d MB of the disk are free, less than keep_free_mb, and the journal has nothing more that may go; make room",
			free/1e6))
	case room && p.low:
		p.low = false
		p.j.opt.Logger.Info("the disk has room again", "code", EventDiskRoom)
	}
}

// event records an event of the journal itself, logs it and passes it on.
func (j *Journal) event(ctx context.Context, code, note string) {
	e := Event{Run: j.opt.Run, Time: j.opt.Now(), SinceStart: j.opt.Now().Sub(j.opt.Started), Code: code, Note: note}
	j.opt.Logger.Error(note, "code", code)
	j.opt.Notice(e)
	_ = j.RecordEvent(ctx, e) // held where it cannot be written; the log has it
}

// unused says which cursors hold nothing back any more, because their sink is not configured.
func (j *Journal) unused() {
	j.w.mu.Lock()
	defer j.w.mu.Unlock()
	for sink, passed := range j.w.passed {
		if !slices.Contains(j.w.sinks, sink) && passed < j.w.last {
			j.opt.Logger.Warn("a sink that is not configured any more has not got everything; what it has not got is pruned like the rest, "+
				"and it goes on from what is left if it is configured again", "code", "journal-cursor-unused", "sink", sink, "behind", j.w.last-passed)
		}
	}
}

// diskFree gives how many bytes an ordinary user can still write there.
func diskFree(dir string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, fmt.Errorf("ask how much of the disk is free: %w", err)
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
