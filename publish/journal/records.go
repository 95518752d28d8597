package journal

import (
	"context"
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

// Gap says what is missing of one instrument, between which times, and why.
type Gap struct {
	ID         int64 // 0 for one not recorded yet
	Instrument string
	Run        string
	Cause      convert.Cause
	// First and last seq in it; 0 where no seq was given to what is missing.
	FromSeq, UntilSeq uint64
	From              time.Time
	Until             time.Time // zero: still open
	Count             int64     // readings missing; 0 where nobody can know
	Note              string    // one line for a person
}

// RecordGap makes a gap that has ended durable. Like a result it is held in memory while the disk is full.
func (j *Journal) RecordGap(ctx context.Context, g Gap) error {
	o := &op{done: make(chan error, 1), gaps: []Gap{g}}
	if err := j.w.hand(o); err != nil {
		return err
	}
	return wait(ctx, o)
}

// OpenGap records a gap that has begun, and gives its number for CloseGap. Like a result it is held in memory while the
// disk is full: the number holds then too, and the error is ErrHeld.
func (j *Journal) OpenGap(ctx context.Context, g Gap) (id int64, err error) {
	g.Until = time.Time{}
	id = -j.opened.Add(1) // its number in the file is not known before it is there
	return id, j.note(ctx, func(w *writer) error {
		row, err := w.insertGap(g)
		w.open[id] = row
		return err
	})
}

// CloseGap records the end of a gap, the last seq in it and how many readings it took. The number is one that OpenGap
// gave, or the ID of a recorded gap. It is held in memory while the disk is full.
func (j *Journal) CloseGap(ctx context.Context, id int64, until time.Time, untilSeq uint64, count int64) error {
	return j.note(ctx, func(w *writer) error {
		row := id
		if id < 0 {
			row = w.open[id]
		}
		_, err := w.conn.ExecContext(context.Background(), "UPDATE gap SET until_ns = ?, until_seq = ?, count = ? WHERE id = ?",
			until.UnixNano(), int64(untilSeq), count, row)
		return err
	})
}

func (s *state) insertGap(g Gap) (int64, error) {
	var until any
	if !g.Until.IsZero() {
		until = g.Until.UnixNano()
	}
	return inserted(s.insGap.Exec(g.Instrument, g.Run, string(g.Cause), int64(g.FromSeq), int64(g.UntilSeq),
		g.From.UnixNano(), until, g.Count, g.Note))
}

// PortRefusal is something received on a port that belongs to no instrument.
type PortRefusal struct {
	ID         int64
	Run        string
	Port       string
	ReceivedAt time.Time
	Cause      convert.Cause
	Frame      []byte // raw, at most 512 bytes
	Note       string
	Count      int64 // how many times the like was received since the one recorded before
}

// RecordPortRefusal makes it durable. It is held in memory while the disk is full.
func (j *Journal) RecordPortRefusal(ctx context.Context, p PortRefusal) error {
	return j.note(ctx, func(w *writer) error {
		_, err := w.insPortRefusal.Exec(p.Run, p.Port, p.ReceivedAt.UnixNano(), string(p.Cause), p.Frame, p.Note, p.Count)
		return err
	})
}

// Event is something worth keeping that is not a reading: a clock step, a start, a stop.
type Event struct {
	ID         int64
	Run        string
	Time       time.Time
	SinceStart time.Duration
	Code       string
	Instrument string // empty where it concerns none
	Note       string
}

// RecordEvent makes it durable. It is held in memory while the disk is full.
func (j *Journal) RecordEvent(ctx context.Context, e Event) error {
	return j.note(ctx, func(w *writer) error { return w.insertEvent(e) })
}

func (s *state) insertEvent(e Event) error {
	_, err := s.insEvent.Exec(e.Run, e.Time.UnixNano(), int64(e.SinceStart), e.Code, e.Instrument, e.Note)
	return err
}

// CoefficientSet is what turned positions into pressures: Hash is in every result it produced.
type CoefficientSet struct {
	Hash       string
	Instrument string
	Text       string // all of it, readable
}

// AddCoefficientSet keeps the set; one that is kept already is left as it is.
func (j *Journal) AddCoefficientSet(ctx context.Context, c CoefficientSet) error {
	return j.do(ctx, func(w *writer) error {
		id, err := w.number(w.configs, w.insConfig, c.Hash)
		if err != nil {
			return err
		}
		_, err = w.conn.ExecContext(context.Background(),
			"UPDATE coefficient_set SET instrument = ?, text = ? WHERE id = ? AND text IS NULL", c.Instrument, c.Text, id)
		return err
	})
}

// SaveCursor makes durable what a sink still has to get.
func (j *Journal) SaveCursor(ctx context.Context, sink string, c publish.Cursor) error {
	return j.do(ctx, func(w *writer) error {
		ctx := context.Background()
		if _, err := w.conn.ExecContext(ctx, `INSERT INTO cursor (sink, live) VALUES (?,?)
			ON CONFLICT (sink) DO UPDATE SET live = excluded.live`, sink, c.Live); err != nil {
			return err
		}
		if _, err := w.conn.ExecContext(ctx, "DELETE FROM late_range WHERE sink = ?", sink); err != nil {
			return err
		}
		for _, r := range c.Late {
			if _, err := w.conn.ExecContext(ctx, "INSERT INTO late_range (sink, from_id, until_id) VALUES (?,?,?)",
				sink, r.From, r.Until); err != nil {
				return err
			}
		}
		w.cursors[sink] = c.Live
		if len(c.Late) > 0 {
			w.cursors[sink] = min(c.Live, c.Late[0].From)
		}
		return nil
	})
}

// Quarantine makes durable that a row was refused by a sink, and why.
func (j *Journal) Quarantine(ctx context.Context, sink string, row int64, reason string) error {
	return j.do(ctx, func(w *writer) error {
		_, err := w.insQuarantine.Exec(sink, row, w.opt.Now().UnixNano(), reason)
		return err
	})
}

// begin records the start of the run. It runs before the writer's goroutine does.
func (w *writer) begin(ctx context.Context) error {
	if _, used := w.runs[w.opt.Run]; used {
		return errRunUsed(w.opt.Run)
	}
	return w.transact(ctx, func() error {
		started := w.opt.Started.UnixNano()
		id, err := w.insertRun(w.opt.Run, w.opt.Bridge, started)
		w.runs[w.opt.Run] = runRow{id: id, startedNS: started}
		return err
	})
}

type errRunUsed string

func (e errRunUsed) Error() string {
	return "run " + string(e) + " was recorded before; every start of the bridge needs a name of its own; nothing was changed"
}

// end records that the run ended as planned.
func (w *writer) end() error {
	ctx := context.Background()
	return w.transact(ctx, func() error {
		_, err := w.conn.ExecContext(ctx, "UPDATE run SET ended_ns = ? WHERE name = ?", w.opt.Now().UnixNano(), w.opt.Run)
		return err
	})
}
