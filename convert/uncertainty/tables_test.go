package uncertainty

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// row is one line of a table of published values.
type row struct {
	value  string
	tol    float64 // absolute; 0 for inputs
	source string  // with its provenance
}

func (r row) number(t testing.TB) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r.value, 64)
	if err != nil {
		t.Fatalf("table value %q is not a number", r.value)
	}
	return v
}

// table holds the rows of one CSV file by the words of its first columns.
type table struct {
	t    testing.TB
	name string
	rows map[[2]string]row
}

// readTable reads a CSV under testdata; key names the two columns that name a row, tol the tolerance's column.
func readTable(t testing.TB, name string, key [2]string, value, tol string) table {
	t.Helper()
	records := readCSV(t, name)
	tab := table{t: t, name: name, rows: map[[2]string]row{}}
	for _, r := range records {
		limit, _ := strconv.ParseFloat(r[tol], 64) // inputs have none
		tab.rows[[2]string{r[key[0]], r[key[1]]}] = row{r[value], limit, r["source"] + " [" + r["provenance"] + "]"}
	}
	return tab
}

func readCSV(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines, error %v", name, len(lines), err)
	}
	var out []map[string]string
	for _, l := range lines[1:] {
		m := map[string]string{}
		for i, h := range lines[0] {
			m[h] = l[i]
		}
		out = append(out, m)
	}
	return out
}

func gumTable(t testing.TB) table {
	t.Helper()
	return readTable(t, "gum_examples.csv", [2]string{"example", "quantity"}, "value", "comparison_tolerance_absolute")
}

func (tab table) row(first, second string) row {
	tab.t.Helper()
	r, ok := tab.rows[[2]string{first, second}]
	if !ok {
		tab.t.Fatalf("%s has no row %q, %q", tab.name, first, second)
	}
	return r
}

func (tab table) get(first, second string) float64 {
	tab.t.Helper()
	return tab.row(first, second).number(tab.t)
}

// check compares with a row of the table, within that row's own tolerance.
func (tab table) check(got float64, first, second string) {
	tab.t.Helper()
	r := tab.row(first, second)
	if r.tol == 0 {
		tab.t.Fatalf("%s %s has no tolerance", first, second)
	}
	near(tab.t, first+" "+second, got, r.number(tab.t), r.tol, r.source)
}

func near(t testing.TB, what string, got, want, tol float64, source string) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) && got != want {
		t.Errorf("%s: got %.12g, want %.12g ± %.2g (%s)", what, got, want, tol, source)
	}
}

func nearRel(t testing.TB, what string, got, want, tol float64, source string) {
	t.Helper()
	near(t, what, got, want, tol*math.Abs(want), source)
}

func coverage(t testing.TB, p float64) *Coverage {
	t.Helper()
	c, err := NewCoverage(p)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
