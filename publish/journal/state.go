package journal

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"manobridge/convert"
)

// spanRows is how many rows one line of table span covers.
const spanRows = 512

// state is what the writer knows of the file. A failed transaction may leave numbers in it that were never made
// durable, so it is loaded again then.
type state struct {
	statements

	runs        map[string]runRow
	instruments map[string]int64
	streams     map[streamName]*stream
	configs     map[string]int64
	causes      map[string]int64
	maxNS       map[int64]int64  // latest time of each instrument, over all runs
	cursors     map[string]int64 // by sink: it has everything up to that row

	lastID int64
	lastNS int64 // of the row with that number, where it was written since the start
	// the row that was written last, as whole gathers it, and its line of table average, or nil
	written []byte
	average *averageRow
	span    span
	lived   lived
}

type runRow struct {
	id        int64
	startedNS int64
}

type stream struct {
	id, run, instrument int64
	startedNS           int64
	// last row
	lastID, lastSeq, lastNS, maxNS int64
}

// span is the open one: rows after the last closed span.
type span struct {
	first, rows, min, max int64
	touched               map[*stream]bool
}

func (s *span) add(st *stream, id, ns int64) {
	if s.rows == 0 {
		*s = span{first: id, min: ns, max: ns, touched: map[*stream]bool{}}
	}
	s.rows++
	s.min, s.max = min(s.min, ns), max(s.max, ns)
	s.touched[st] = true
}

// load reads the state from the file.
func (s *state) load(ctx context.Context, conn *sql.Conn) error {
	s.runs, s.instruments = map[string]runRow{}, map[string]int64{}
	s.streams, s.maxNS = map[streamName]*stream{}, map[int64]int64{}
	s.configs, s.causes, s.cursors = map[string]int64{}, map[string]int64{}, map[string]int64{}
	s.span, s.lastID, s.lived = span{}, 0, lived{}

	scan := func(query string, each func(rows *sql.Rows) error) error {
		rows, err := conn.QueryContext(ctx, query)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			if err := each(rows); err != nil {
				return err
			}
		}
		return rows.Err()
	}
	word := func(into map[string]int64) func(rows *sql.Rows) error {
		return func(rows *sql.Rows) error {
			var id int64
			var name string
			if err := rows.Scan(&id, &name); err != nil {
				return err
			}
			into[name] = id
			return nil
		}
	}
	byID := map[int64]*stream{}
	var spanEnd int64
	return errors.Join(
		scan("SELECT id, name FROM instrument", word(s.instruments)),
		scan("SELECT id, hash FROM coefficient_set", word(s.configs)),
		scan("SELECT id, causes FROM cause_list", word(s.causes)),
		scan(`SELECT sink, min(live, coalesce((SELECT min(from_id) FROM late_range WHERE late_range.sink = cursor.sink), live))
			FROM cursor`, func(rows *sql.Rows) error {
			var sink string
			var passed int64
			err := rows.Scan(&sink, &passed)
			s.cursors[sink] = passed
			return err
		}),
		scan("SELECT id, name, started_ns FROM run", func(rows *sql.Rows) error {
			var r runRow
			var name string
			if err := rows.Scan(&r.id, &name, &r.startedNS); err != nil {
				return err
			}
			s.runs[name] = r
			return nil
		}),
		scan(`SELECT stream.id, run, instrument, run.name, instrument.name, run.started_ns,
			coalesce(last_id, 0), coalesce(last_seq, 0), coalesce(last_ns, 0), coalesce(max_ns, 0)
			FROM stream JOIN run ON run.id = stream.run JOIN instrument ON instrument.id = stream.instrument`,
			func(rows *sql.Rows) error {
				st := &stream{}
				var name streamName
				if err := rows.Scan(&st.id, &st.run, &st.instrument, &name.run, &name.instrument, &st.startedNS,
					&st.lastID, &st.lastSeq, &st.lastNS, &st.maxNS); err != nil {
					return err
				}
				s.streams[name], byID[st.id] = st, st
				s.maxNS[st.instrument] = max(s.maxNS[st.instrument], st.maxNS)
				return nil
			}),
		scan("SELECT coalesce(max(last_id), 0) FROM span", func(rows *sql.Rows) error { return rows.Scan(&spanEnd) }),
		conn.QueryRowContext(ctx, "SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'reading'").Scan(&s.lastID),
		s.loadOpenSpan(ctx, conn, byID),
	)
}

func (s *state) loadOpenSpan(ctx context.Context, conn *sql.Conn, byID map[int64]*stream) error {
	rows, err := conn.QueryContext(ctx, `SELECT id, stream, seq, wall_ns FROM reading
		WHERE id > (SELECT coalesce(max(last_id), 0) FROM span) ORDER BY id`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, in, seq, ns int64
		if err := rows.Scan(&id, &in, &seq, &ns); err != nil {
			return err
		}
		st := byID[in]
		if st == nil {
			return errors.New("a reading belongs to no instrument; the file was changed by another program")
		}
		s.note(st, id, seq, ns)
	}
	return rows.Err()
}

func (s *state) note(st *stream, id, seq, ns int64) {
	st.lastID, st.lastSeq, st.lastNS = id, seq, ns
	st.maxNS = max(st.maxNS, ns)
	s.maxNS[st.instrument] = max(s.maxNS[st.instrument], ns)
	s.span.add(st, id, ns)
	s.lived.add(st.instrument, ns)
}

// streamOf finds or makes the stream of a result.
func (s *state) streamOf(r *convert.Result) (*stream, error) {
	name := streamName{r.Run, r.Instrument}
	if st := s.streams[name]; st != nil {
		return st, nil
	}
	run, ok := s.runs[r.Run]
	if !ok { // handed over under a run nobody started: its start follows from the two clocks
		run.startedNS = r.ReceivedAt.UnixNano() - int64(r.SinceStart)
		id, err := s.insertRun(r.Run, "", run.startedNS)
		if err != nil {
			return nil, err
		}
		run.id = id
		s.runs[r.Run] = run
	}
	instrument, err := s.number(s.instruments, s.insInstrument, r.Instrument)
	if err != nil {
		return nil, err
	}
	id, err := inserted(s.insStream.Exec(run.id, instrument))
	if err != nil {
		return nil, err
	}
	st := &stream{id: id, run: run.id, instrument: instrument, startedNS: run.startedNS}
	s.streams[name] = st
	return st, nil
}

func (s *state) insertRun(name, bridge string, startedNS int64) (int64, error) {
	return inserted(s.insRun.Exec(name, bridge, startedNS))
}

// number gives the number a repeated text is kept under.
func (s *state) number(known map[string]int64, insert *sql.Stmt, text string) (int64, error) {
	if id, ok := known[text]; ok {
		return id, nil
	}
	id, err := inserted(insert.Exec(text))
	if err == nil {
		known[text] = id
	}
	return id, err
}

func inserted(r sql.Result, err error) (int64, error) {
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// insert writes one result and keeps the state in step: lastID and lastNS are then its own.
func (s *state) insert(ctx context.Context, r *convert.Result) error {
	st, err := s.streamOf(r)
	if err != nil {
		return err
	}
	ns, err := s.unique(st, r.ReceivedAt.UnixNano())
	if err != nil {
		return err
	}
	id, err := s.insertReading(ctx, st, ns, r)
	if err != nil {
		return err
	}
	s.lastID, s.lastNS = id, ns
	s.note(st, id, int64(r.Seq), ns)
	if s.span.rows < spanRows {
		return nil
	}
	if _, err := s.insSpan.Exec(s.span.first, id, s.span.min, s.span.max); err != nil {
		return err
	}
	for st := range s.span.touched {
		if _, err := s.updStream.Exec(st.lastID, st.lastSeq, st.lastNS, st.maxNS, st.id); err != nil {
			return err
		}
	}
	s.span = span{}
	return nil
}

// Tail is the last reading an instrument had in an earlier run.
type Tail struct {
	convert.Name
	ID         int64
	ReceivedAt time.Time
}

// tails gives the last reading of every instrument, those of recordings that were played left out.
func (s *state) tails() []Tail {
	last := map[string]Tail{}
	for name, st := range s.streams {
		if st.lastID > last[name.instrument].ID && !IsPlayed(name.run) {
			last[name.instrument] = Tail{
				Name: convert.Name{Run: name.run, Instrument: name.instrument, Seq: uint64(st.lastSeq)},
				ID:   st.lastID, ReceivedAt: unixTime(st.lastNS),
			}
		}
	}
	tails := make([]Tail, 0, len(last))
	for _, t := range last {
		tails = append(tails, t)
	}
	return tails
}
