package journal

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"time"
)

// mark is the high-water mark: how far the journal had come, kept in a small file beside it. A database whose log was
// taken away, or that an older copy was put in place of, is whole in itself; only something outside it can tell that rows
// are missing. The mark follows at a bounded rate and never leads: what it names was durable.
type mark struct {
	Layout  int64             `json:"layout"`
	LastRow int64             `json:"last_row"`
	Run     string            `json:"run"`
	Clean   bool              `json:"clean"`             // the journal was closed as planned after this
	Damaged string            `json:"damaged,omitempty"` // what a check found while the bridge ran
	Written time.Time         `json:"written"`
	Tails   map[string]tailAt `json:"tails,omitempty"`   // by instrument
	Cursors map[string]int64  `json:"cursors,omitempty"` // by sink: it has everything up to that row
}

// tailAt is the last reading of an instrument.
type tailAt struct {
	Run  string `json:"run"`
	Seq  uint64 `json:"seq"`
	Row  int64  `json:"row"`
	AtNS int64  `json:"at_ns"`
}

func markPath(path string) string { return path + ".mark" }

// readMark gives the mark beside a journal, and whether there is one that can be read.
func readMark(path string) (m mark, ok bool) {
	b, err := os.ReadFile(markPath(path))
	return m, err == nil && json.Unmarshal(b, &m) == nil
}

// writeMark puts the mark in place at once or not at all, flushed to the disk.
func writeMark(path string, m mark) error {
	b, err := json.Marshal(m)
	if err != nil {
		return err
	}
	next := markPath(path) + ".new"
	f, err := os.OpenFile(next, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(append(b, '\n'))
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(next))
	}
	if err := os.Rename(next, markPath(path)); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// markOf is how far the journal is. The writer goroutine works meanwhile.
func (w *writer) markOf() mark {
	w.mu.Lock()
	defer w.mu.Unlock()
	return mark{Layout: schemaVersion, LastRow: w.last, Run: w.opt.Run, Damaged: w.damaged, Written: w.opt.Now().UTC(),
		Tails: maps.Clone(w.tail), Cursors: maps.Clone(w.passed)}
}

// markDurable notes what a commit made durable. w.mu is held, by the writer goroutine.
func (w *writer) markDurable(group []*op) {
	for _, o := range group {
		for i := range o.results {
			name := streamName{o.results[i].Run, o.results[i].Instrument}
			if st := w.streams[name]; st != nil && !IsPlayed(name.run) {
				w.tail[name.instrument] = tailAt{Run: name.run, Seq: uint64(st.lastSeq), Row: st.lastID, AtNS: st.lastNS}
			}
		}
	}
	clear(w.passed)
	maps.Copy(w.passed, w.cursors)
}

// keepMark writes the mark while the journal is open, where it has moved, until ctx ends.
func (j *Journal) keepMark(ctx context.Context) {
	tick := time.NewTicker(j.opt.MarkEvery)
	defer tick.Stop()
	last := j.w.markOf()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		m := j.w.markOf()
		if m.LastRow == last.LastRow && m.Damaged == last.Damaged && maps.Equal(m.Cursors, last.Cursors) {
			continue
		}
		if writeMark(j.opt.Path, m) == nil { // a full disk: the older mark holds as well
			last = m
		}
	}
}
