package journal_test

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// layout1 makes the journal of layout 1 (see its NOTE.md).
func layout1(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "layout-1", "journal.sql"))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}()
	if _, err := db.Exec(string(text)); err != nil {
		t.Fatal(err)
	}
	return path
}

// layout1Given is what was handed to it.
var layout1Given = append(publishtest.Series("first", "suite-a", 1, 520), publishtest.Series("first", "suite-b", 1, 5)...)

func isLayout1Given(t *testing.T, r *journal.Reader) {
	t.Helper()
	rows := all(t, r, journal.Query{})
	if len(rows) < len(layout1Given) {
		t.Fatalf("got %d rows, want the %d of layout 1", len(rows), len(layout1Given))
	}
	for i, want := range layout1Given {
		if d := publishtest.Difference(rows[i].Result, want); d != "" || rows[i].ID != int64(i+1) || !rows[i].ReceivedAt.Equal(want.ReceivedAt) {
			t.Fatalf("row %d at %v: %s", rows[i].ID, rows[i].ReceivedAt, d)
		}
	}
	put, err := r.Quarantined(t.Context(), "")
	if err != nil || len(put) != 1 || put[0].Name != (layout1Given[4].Name) || put[0].Sink != "series" || put[0].Reason != "field type conflict" {
		t.Errorf("got put aside %+v, %v, want row 5 for series", put, err)
	}
	c, ok, err := r.Cursor(t.Context(), "mqtt")
	if err != nil || !ok || c.Live != 500 || !slices.Equal(c.Late, []publish.Range{{From: 1, Until: 2}, {From: 4, Until: 6}}) {
		t.Errorf("got cursor %+v, %v, %v, want 500 and two late ranges", c, ok, err)
	}
	if gaps, err := r.Gaps(t.Context()); err != nil || len(gaps) == 0 || gaps[0].Note != "no frame" {
		t.Errorf("got gaps %+v, %v, want the one of silence first", gaps, err)
	}
	if set, ok, err := r.CoefficientSet(t.Context(), "5f1c0de5a9c27b31"); err != nil || !ok || set.Text != "slope_deg: 11.54" {
		t.Errorf("got coefficient set %+v, %v, %v", set, ok, err)
	}
}

// A reader changes no file, so it must know the earlier layout as it is.
func TestLayout1IsReadAsItIs(t *testing.T) {
	path := layout1(t)
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	isLayout1Given(t, r)
	for act, err := range r.Acts(t.Context(), 0) {
		t.Errorf("got act %+v, %v, want none", act, err)
	}
	if list, err := r.Generations(t.Context()); err != nil || len(list) != 0 {
		t.Errorf("got generations %v, %v, want none", list, err)
	}
	if got := scalar(t, path, "SELECT user_version FROM pragma_user_version"); got != 1 {
		t.Errorf("got layout %d after reading, want 1", got)
	}
}

func TestLayout1IsBroughtForwardWithAllThatIsInIt(t *testing.T) {
	path := layout1(t)
	for i, run := range []string{"second", "third"} {
		j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: run, Bridge: "rack-pc"})
		if err != nil {
			t.Fatal(err)
		}
		isLayout1Given(t, j.Reader)
		from := uint64(1000 * (i + 1)) // later in time too
		add(t, j, publishtest.Series(run, "suite-a", from, from+599)...)
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	isLayout1Given(t, r)
	if got := len(all(t, r, journal.Query{})); got != len(layout1Given)+1200 {
		t.Errorf("got %d rows, want %d", got, len(layout1Given)+1200)
	}
	fresh := filepath.Join(t.TempDir(), "fresh.db")
	open(t, fresh, "first").Close()
	if a, b := tables(t, path), tables(t, fresh); !slices.Equal(a, b) {
		t.Errorf("a migrated journal has the tables\n%q\nwant those of a new one\n%q", a, b)
	}
}

func tables(t *testing.T, path string) (out []string) {
	t.Helper()
	query(t, path, func(rows *sql.Rows) error {
		var text string
		err := rows.Scan(&text)
		out = append(out, text)
		return err
	}, "SELECT name || ': ' || sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY name")
	return out
}

func scalar(t *testing.T, path, statement string) (v int64) {
	t.Helper()
	query(t, path, func(rows *sql.Rows) error { return rows.Scan(&v) }, statement)
	return v
}

// plainFile is file without the characters that a foreign opener would have to escape.
func plainFile(t *testing.T) string { return filepath.Join(t.TempDir(), "journal.db") }

func query(t *testing.T, path string, each func(rows *sql.Rows) error, statement string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.QueryContext(context.Background(), statement)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := each(rows); err != nil {
			t.Fatal(err)
		}
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}
