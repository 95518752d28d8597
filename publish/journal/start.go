package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"golang.org/x/sys/unix"

	"manobridge/convert"
)

// open opens the file for writing and starts the writer. A file that turns out damaged is set aside and a new one begun:
// a bridge that refuses to start because of its history loses what its instruments send meanwhile.
func (j *Journal) open(ctx context.Context) error {
	m, marked := readMark(j.opt.Path)
	ours, short := look(j.opt.Path)
	var aside string
	why := j.openFile(ctx, m, short)
	if isDamage(why) && !j.opt.tool && (marked || ours) {
		var err error
		if aside, err = j.setAside(); err != nil {
			return errors.Join(why, err)
		}
		j.closeFile() // what it says of a damaged file helps nobody
		j.w, j.Reader, j.conn, j.db = nil, nil, nil, nil
		if err := j.openFile(ctx, mark{}, nil); err != nil {
			return err
		}
	} else if why != nil {
		return why
	}
	if j.opt.tool {
		go j.w.run()
		return nil
	}
	if err := j.goOn(ctx, m, aside, why); err != nil {
		return err
	}
	j.previous = withTails(j.w.tails(), m.Tails)
	if err := j.w.begin(ctx); err != nil {
		return err
	}
	if err := writeMark(j.opt.Path, j.w.markOf()); err != nil && !errors.Is(err, unix.ENOSPC) {
		return fmt.Errorf("write %s: %w; check who may write the directory", markPath(j.opt.Path), err)
	}
	go j.w.run()
	j.background(j.keepMark)
	if j.opt.Sinks != nil {
		j.unused()
	}
	j.background(j.prune)
	return nil
}

// openFile opens the connections, checks what can be checked at once, and loads the state of the writer. The check of
// the whole file is waited for as long as Options.CheckWithin and goes on after it.
func (j *Journal) openFile(ctx context.Context, m mark, short error) error {
	if short != nil {
		return &damage{short}
	}
	level := "FULL"
	if j.opt.Durability == Relaxed {
		level = "NORMAL"
	}
	var err error
	// auto_vacuum only takes effect before the first table is made, so it comes first.
	j.db, err = sql.Open("sqlite", dsn(j.opt.Path, "_pragma=auto_vacuum(incremental)",
		"_pragma=busy_timeout(5000)", "_pragma=journal_mode(wal)", "_pragma=synchronous("+level+")",
		"_pragma=journal_size_limit(16777216)", "_pragma=foreign_keys(0)", "_txlock=immediate"))
	if err != nil {
		return err
	}
	j.db.SetMaxOpenConns(1)
	j.conn, err = j.db.Conn(ctx)
	if err != nil {
		return explain(err)
	}
	if err := j.identify(ctx, m); err != nil {
		return err
	}
	j.Reader, err = openPool(j.opt.Path)
	if err != nil {
		return err
	}
	j.w, err = newWriter(ctx, j.conn, &j.opt)
	if err != nil {
		return explain(err)
	}
	return j.beginCheck(ctx, m.Damaged != "")
}

// beginCheck starts the check of the whole file and waits for it for a moment, or, where an earlier one failed, to its
// end: only a check can tell whether the file was put right since.
func (j *Journal) beginCheck(ctx context.Context, whole bool) error {
	outcome := make(chan checked)
	late := make(chan struct{})
	defer close(late)
	j.background(func(ctx context.Context) {
		c := j.check(ctx)
		select {
		case outcome <- c:
		case <-late:
			j.later(ctx, c)
		}
	})
	var patience <-chan time.Time
	if !whole {
		timer := time.NewTimer(j.opt.CheckWithin)
		defer timer.Stop()
		patience = timer.C
	}
	select {
	case c := <-outcome:
		if c.problem != "" {
			return &damage{errors.New(c.problem)}
		}
		return c.err
	case <-patience:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// background runs f until the file is closed.
func (j *Journal) background(f func(ctx context.Context)) {
	if j.stopWork == nil {
		j.work, j.stopWork = context.WithCancel(context.Background())
	}
	ctx := j.work
	j.working.Go(func() { f(ctx) })
}

// closeFile closes whatever was opened. The writer has ended, or never began.
func (j *Journal) closeFile() error {
	if j.stopWork != nil {
		j.stopWork()
		j.working.Wait()
		j.work, j.stopWork = nil, nil
	}
	var errs []error
	if j.w != nil {
		errs = append(errs, j.w.closeStatements())
	}
	if j.Reader != nil {
		errs = append(errs, j.Reader.Close())
	}
	if j.conn != nil {
		errs = append(errs, j.conn.Close())
	}
	if j.db != nil {
		errs = append(errs, j.db.Close()) // the last connection; it folds the write-ahead log into the file
	}
	return errors.Join(errs...)
}

// Close commits what is still waiting, notes that the run ended as planned, and closes the file. It returns what could
// not be committed as an error.
func (j *Journal) Close() error {
	j.once.Do(func() {
		err := j.w.stop()
		m := j.w.markOf()
		m.Clean = err == nil
		if err = errors.Join(err, j.release()); err == nil && !j.opt.tool {
			_ = writeMark(j.opt.Path, m) // an older mark holds as well; the next start then checks more
		}
		j.closeErr = err
	})
	return j.closeErr
}

// release closes the file and frees the lock.
func (j *Journal) release() error { return errors.Join(j.closeFile(), j.lockFile.Close()) }

// withTails adds the last readings that a mark knows of instruments that the file does not, or knows later ones of.
func withTails(tails []Tail, marked map[string]tailAt) []Tail {
	at := map[string]int{}
	for i, t := range tails {
		at[t.Instrument] = i
	}
	for name, m := range marked {
		t := Tail{Name: convert.Name{Run: m.Run, Instrument: name, Seq: m.Seq}, ID: m.Row, ReceivedAt: unixTime(m.AtNS)}
		i, known := at[name]
		switch {
		case IsPlayed(m.Run):
		case !known:
			tails = append(tails, t)
		case tails[i].ID < t.ID:
			tails[i] = t
		}
	}
	return tails
}
