package journal_test

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// dbPath finds the file of an open journal.
func dbPath(j *journal.Journal) string { return j.Path() }

func tryOpen(t *testing.T, path, run string) error {
	t.Helper()
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: run, Bridge: "other-pc"})
	if err == nil {
		j.Close()
		t.Error("opened")
	}
	return err
}

func TestSecondWriterIsToldWhoHoldsTheJournal(t *testing.T) {
	path := file(t)
	j := open(t, path, "first")
	err := tryOpen(t, path, "second")
	var held *journal.HeldError
	if !errors.As(err, &held) || !strings.Contains(err.Error(), `bridge "rack-pc"`) {
		t.Errorf("got %v, want who holds it", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, path, "second") // free again
}

func TestOpenRefusesWhatIsNoJournal(t *testing.T) {
	dir := t.TempDir()
	foreign := filepath.Join(dir, "foreign.db")
	execute(t, foreign, "CREATE TABLE stock (id INTEGER)")
	later := filepath.Join(dir, "later.db")
	open(t, later, "first").Close()
	execute(t, later, "PRAGMA user_version = 99")
	text := filepath.Join(dir, "text.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("not a database. ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ path, run, want string }{
		{foreign, "second", "not a journal of this program"},
		{later, "second", "the journal has layout 99"},
		{text, "second", "not a database"},
		{filepath.Join(dir, "none", "j.db"), "second", "does not exist"},
	} {
		if err := tryOpen(t, tc.path, tc.run); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: got %v, want %q", filepath.Base(tc.path), err, tc.want)
		}
	}
	again := filepath.Join(dir, "again.db")
	open(t, again, "same").Close()
	if err := tryOpen(t, again, "same"); err == nil || !strings.Contains(err.Error(), "was recorded before") {
		t.Errorf("got %v for a run used twice, want a refusal", err)
	}
	if _, err := journal.OpenReader(context.Background(), filepath.Join(dir, "missing.db")); err == nil || !strings.Contains(err.Error(), "there is no such file") {
		t.Errorf("got %v for a reader of a missing file", err)
	}
	if _, err := journal.OpenReader(context.Background(), foreign); err == nil {
		t.Error("a reader opened a foreign database")
	}
}

func execute(t *testing.T, path, statement string) {
	t.Helper()
	if err := tryExecute(path, statement); err != nil {
		t.Fatal(err)
	}
}

func tryExecute(path, statement string) error {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		return err
	}
	defer db.Close()
	_, err = db.Exec(statement)
	return err
}

func TestReaderOpensAJournalNobodyWrites(t *testing.T) {
	path := file(t)
	j := open(t, path, "first")
	add(t, j, publishtest.Series("first", "suite-a", 1, 20)...)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if got := len(all(t, r, journal.Query{})); got != 20 {
		t.Errorf("got %d rows, want 20", got)
	}
}
