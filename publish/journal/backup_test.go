package journal_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// A copy is taken while readings come in, and is whole.
func TestBackupWhileTheJournalIsWritten(t *testing.T) {
	path, dest := file(t), file(t)
	j := open(t, path, "first")
	add(t, j, publishtest.Series("first", "suite-a", 1, 3000)...)
	ctx, stop := context.WithCancel(t.Context())
	var writing sync.WaitGroup
	writing.Go(func() {
		for seq := uint64(3001); ctx.Err() == nil; seq += 10 {
			if err := j.Append(context.Background(), publishtest.Series("first", "suite-a", seq, seq+9)); err != nil {
				t.Errorf("append: %v", err)
				return
			}
		}
	})
	c, err := journal.Backup(t.Context(), path, dest)
	stop()
	writing.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if c.Rows < 3000 || c.From != 1 || c.To != c.Rows || c.Bytes != fileSize(t, dest) {
		t.Errorf("got %+v, want at least 3000 rows from row 1 on", c)
	}
	r, err := journal.OpenReader(t.Context(), dest)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	rows := all(t, r, journal.Query{})
	if int64(len(rows)) != c.Rows {
		t.Errorf("got %d rows in the copy, want the %d reported", len(rows), c.Rows)
	}
	for i, row := range rows {
		want := publishtest.Series("first", "suite-a", uint64(i+1), uint64(i+1))[0]
		if d := publishtest.Difference(row.Result, want); d != "" {
			t.Fatalf("row %d: %s", row.ID, d)
		}
	}
}

func TestBackupOverwritesNothing(t *testing.T) {
	path, dir := plainFile(t), t.TempDir()
	open(t, path, "first").Close()
	taken := filepath.Join(dir, "taken.db")
	if err := os.WriteFile(taken, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ from, to, want string }{
		{path, taken, "exists and is not overwritten"},
		{path, path, "exists and is not overwritten"},
		{path, filepath.Join(dir, "none", "copy.db"), "no copy was made"},
		{filepath.Join(dir, "missing.db"), filepath.Join(dir, "copy.db"), "there is no such file"},
	} {
		if _, err := journal.Backup(t.Context(), tc.from, tc.to); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("to %s: got %v, want %q", tc.to, err, tc.want)
		}
	}
	if b, err := os.ReadFile(taken); err != nil || string(b) != "mine" {
		t.Errorf("got %q, %v, want the file untouched", b, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 1 {
		t.Errorf("got %v, %v left behind, want the one file that was there", left, err)
	}
}

// A restored copy goes on with its cursors; what came after it is named, and no number or name is used again.
func TestRestoredBackupGoesOn(t *testing.T) {
	for _, tc := range []struct {
		name    string
		move    bool // to a machine that has no mark
		missing int64
	}{{"in place", false, 500}, {"on another machine", true, 0}} {
		t.Run(tc.name, func(t *testing.T) {
			path, dest := plainFile(t), plainFile(t)
			sinks := []string{"mqtt"}
			openAt := func(path, run string, notice func(journal.Event)) *journal.Journal {
				j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: run, Bridge: "rack-pc", Sinks: sinks, Notice: notice})
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() { j.Close() })
				return j
			}
			j := openAt(path, "first", nil)
			add(t, j, publishtest.Series("first", "suite-a", 1, 1000)...)
			if err := j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: 900, Late: []publish.Range{{From: 10, Until: 20}}}); err != nil {
				t.Fatal(err)
			}
			if _, err := journal.Backup(t.Context(), path, dest); err != nil {
				t.Fatal(err)
			}
			add(t, j, publishtest.Series("first", "suite-a", 1001, 1500)...)
			j.Close()

			// stop, move, start
			if tc.move {
				path = dest
			} else {
				for _, end := range []string{"", "-wal", "-shm"} {
					if err := os.Rename(path+end, path+".old"+end); err != nil && !os.IsNotExist(err) {
						t.Fatal(err)
					}
				}
				if err := os.Rename(dest, path); err != nil {
					t.Fatal(err)
				}
			}
			var told []journal.Event
			j = openAt(path, "second", func(e journal.Event) { told = append(told, e) })
			c, ok, err := j.Cursor(t.Context(), "mqtt")
			if err != nil || !ok || c.Live != 900 || len(c.Late) != 1 {
				t.Errorf("got cursor %+v, %v, %v, want that of the copy", c, ok, err)
			}
			rows, err := j.Rows(t.Context(), c.Live, 1000)
			if err != nil || len(rows) != 100 || rows[0].Seq != 901 {
				t.Errorf("got %d rows to deliver, %v, want seqs 901 to 1000", len(rows), err)
			}
			add(t, j, publishtest.Result("second", "suite-a", 2000))
			if want := 1001 + tc.missing; j.Last() != want {
				t.Errorf("got row %d, want %d", j.Last(), want)
			}
			gaps, err := j.Gaps(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if tc.missing == 0 {
				if len(gaps) != 0 || len(told) != 0 {
					t.Errorf("got gaps %+v and told %+v, want none", gaps, told)
				}
				return
			}
			if len(gaps) != 1 || gaps[0].FromSeq != 1001 || gaps[0].UntilSeq != 1500 || gaps[0].Count != tc.missing {
				t.Errorf("got gaps %+v, want seqs 1001 to 1500", gaps)
			}
			if len(told) != 1 || !strings.Contains(told[0].Note, fmt.Sprintf(": %d results are missing", tc.missing)) {
				t.Errorf("got told %+v, want the exact number, for the journal had been closed as planned", told)
			}
		})
	}
}
