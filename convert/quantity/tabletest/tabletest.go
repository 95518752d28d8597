// Package tabletest reads tables of published values for tests. It refuses a table in silence: a missing file, column or
// number ends the test.
package tabletest

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// Row is one line of a table, by column name.
type Row struct {
	t     testing.TB
	path  string
	cells map[string]string
	Line  int
}

// Rows reads a CSV file with a header.
func Rows(t testing.TB, path string) []Row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	header, err := r.Read()
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	var rows []Row
	for {
		cells, err := r.Read()
		if err != nil {
			break
		}
		line, _ := r.FieldPos(0)
		row := Row{t: t, path: path, cells: make(map[string]string, len(header)), Line: line}
		for i, name := range header {
			row.cells[name] = cells[i]
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s: no rows", path)
	}
	return rows
}

// Tally counts which rows a test checked and which it passed over, so that none is lost in silence.
type Tally struct{ checked, skipped int }

// Checked counts a row as checked.
func (y *Tally) Checked() { y.checked++ }

// Skip counts a row as passed over, and logs why.
func (y *Tally) Skip(r Row, why string) {
	r.t.Helper()
	y.skipped++
	r.t.Logf("%s:%d: skipped: %s", r.path, r.Line, why)
}

// Want fails the test unless the counts are these.
func (y *Tally) Want(t testing.TB, checked, skipped int) {
	t.Helper()
	if y.checked != checked || y.skipped != skipped {
		t.Errorf("got %d rows checked and %d skipped, want %d and %d", y.checked, y.skipped, checked, skipped)
	}
}

// Text gives a cell.
func (r Row) Text(column string) string {
	r.t.Helper()
	s, ok := r.cells[column]
	if !ok {
		r.t.Fatalf("%s: no column %q", r.path, column)
	}
	return s
}

// Number gives a cell as a number.
func (r Row) Number(column string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.Text(column), 64)
	if err != nil {
		r.t.Fatalf("%s:%d: column %s: %v", r.path, r.Line, column, err)
	}
	return v
}

// Within fails the test unless got is within tol of want. The message names the row and its source.
func (r Row) Within(what string, got, want, tol float64) {
	r.t.Helper()
	if d := got - want; !(d >= -tol && d <= tol) {
		r.t.Errorf("%s:%d: %s: got %.9g, want %.9g ± %.2g (%s)", r.path, r.Line, what, got, want, tol, r.Text("source"))
	}
}
