package journal_test

import (
	"bytes"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

func TestSamplesAndAveragesReadBack(t *testing.T) {
	j := open(t, plainFile(t), "now")
	given := publishtest.Series("now", "suite-a", 1, 5)
	for i := range given[:4] {
		given[i].Sample = true
	}
	given[1].Causes = []convert.Cause{"clock-uncertain"}
	given[4].Average = &convert.Average{Window: time.Second, Samples: 5, Good: 4, MinPa: 120, MeanPa: 121.5, MaxPa: 123, SDPa: 0.25}
	given[4].LowExtra = convert.Extra{U: quantity.Millimetres(0.012), DOF: 3}
	lonely := publishtest.Refused("now", "suite-a", 6)
	lonely.Average = &convert.Average{Window: time.Second, Samples: 1, MinPa: math.NaN(), MeanPa: math.NaN(), MaxPa: math.NaN(), SDPa: math.NaN()}
	add(t, j, append(given, lonely)...)
	rows, err := j.Rows(t.Context(), 0, 100)
	if err != nil || len(rows) != 6 {
		t.Fatalf("got %d rows, %v, want 6", len(rows), err)
	}
	for i, want := range given {
		if d := publishtest.Difference(rows[i].Result, want); d != "" {
			t.Errorf("row %d: %s", i+1, d)
		}
	}
	if a := rows[5].Average; a == nil || a.Samples != 1 || a.Good != 0 || !math.IsNaN(a.MeanPa) {
		t.Errorf("got %+v, want a window without a mean", a)
	}
	if got := scalar(t, j.Path(), "SELECT count(*) FROM readings WHERE sample AND seq < 5"); got != 4 {
		t.Errorf("got %d samples in the view, want 4", got)
	}
	if got := scalar(t, j.Path(), "SELECT seq FROM readings WHERE clock_uncertain"); got != 2 {
		t.Errorf("got seq %d with an uncertain clock in the view, want 2", got)
	}
}

// What a reading takes on the disk decides how long a memory card lasts. 110 B for a reading with a frame of 12 bytes is
// what the journal is held to; the price list is SQLite's own record format (sqlite.org/fileformat2.html, 2.1).
func TestReadingTakesAtMost110Bytes(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "now")
	const n = 20000
	batch := publishtest.Series("now", "suite-a", 1, n)
	for i := range batch {
		if batch[i].Refusal != nil {
			batch[i] = publishtest.Result("now", "suite-a", batch[i].Seq)
		}
		batch[i].Sample = i%10 != 9
	}
	for i := 0; i < n; i += 500 {
		add(t, j, batch[i:i+500]...)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	size := scalar(t, path, "SELECT page_size * page_count FROM pragma_page_count, pragma_page_size")
	per := float64(size) / n
	t.Logf("%.1f B for each reading", per)
	if per > 110 {
		t.Errorf("got %.1f B for each reading, the whole file counted, want at most 110", per)
	}
}

func TestActsAreWrittenOnceAndInOrder(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "now")
	for i := range byte(5) {
		a, err := j.AppendAct(t.Context(), func(prev journal.Act) journal.Act {
			return journal.Act{Time: publishtest.Epoch().Add(time.Duration(i) * time.Second), Who: "mk", What: "zero", Subject: "suite-a",
				Old: "10.20 mm", New: "10.25 mm", Why: "after the liquid was changed", PrevHash: prev.Hash, Hash: []byte{i + 1}}
		})
		if err != nil || a.ID != int64(i)+1 {
			t.Fatalf("got act %+v, %v", a, err)
		}
	}
	prev := []byte(nil)
	n := 0
	for a, err := range j.Acts(t.Context(), 0) {
		if err != nil || !bytes.Equal(a.PrevHash, prev) || a.Who != "mk" || a.New != "10.25 mm" {
			t.Errorf("got act %+v, %v, want one that follows %x", a, err, prev)
		}
		prev = a.Hash
		n++
	}
	last, err := j.LastAct(t.Context())
	if n != 5 || err != nil || last.ID != 5 {
		t.Errorf("got %d acts, the last %+v, %v, want 5", n, last, err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	for _, statement := range []string{"UPDATE act SET who = 'nobody'", "DELETE FROM act"} {
		if err := tryExecute(path, statement); err == nil || !strings.Contains(err.Error(), "an act is") {
			t.Errorf("%s: got %v, want a refusal", statement, err)
		}
	}
}

func TestSmallStatesSurviveARestart(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "first")
	for _, err := range []error{
		j.Keep(t.Context(), "service/suite-a", []byte("since Monday")),
		j.KeepAll(t.Context(), map[string][]byte{"alarm/a": {0, 1}, "alarm/b": nil, "service/suite-a": []byte("again")}),
		j.Forget(t.Context(), "alarm/a", "alarm/unknown"),
		j.Close(),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	j = open(t, path, "second")
	if k, ok, err := j.Kept(t.Context(), "service/suite-a"); err != nil || !ok || string(k.Value) != "again" {
		t.Errorf("got %+v, %v, %v, want what was kept last", k, ok, err)
	}
	if _, ok, err := j.Kept(t.Context(), "alarm/a"); ok || err != nil {
		t.Errorf("got %v, %v for a forgotten name", ok, err)
	}
	if list, err := j.KeptAll(t.Context(), "alarm/"); err != nil || len(list) != 1 || list[0].Name != "alarm/b" || len(list[0].Value) != 0 {
		t.Errorf("got %+v, %v, want alarm/b alone", list, err)
	}
}

func TestZerosAndExcursionsReadBack(t *testing.T) {
	j := open(t, plainFile(t), "now")
	at := publishtest.Epoch()
	zero := journal.ZeroTaken{Instrument: "suite-a", Time: at, Who: "mk", Why: "liquid changed", N: 30, FileZeroHash: "1f",
		Low:     journal.Uncertain[quantity.Length]{V: convert.Some(quantity.Millimetres(10.2)), U: 1e-5},
		AsFound: journal.Uncertain[quantity.DifferentialPressure]{V: convert.Some(quantity.DifferentialPressure(0.4)), U: 0.1}}
	id, err := j.AddZero(t.Context(), zero)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.DropZero(t.Context(), id, at.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	zero.ID, zero.Dropped = id, at.Add(time.Hour)
	if list, err := j.Zeros(t.Context(), "suite-a"); err != nil || len(list) != 1 || list[0] != zero {
		t.Errorf("got zeros %+v, %v, want %+v", list, err, zero)
	}
	e := journal.Excursion{Limit: "suite-pressure", Start: at, JSON: `{"extreme_pa":9.5}`}
	if e.ID, err = j.AddExcursion(t.Context(), e); err != nil {
		t.Fatal(err)
	}
	if list, err := j.Excursions(t.Context(), "", at.Add(time.Hour)); err != nil || len(list) != 1 || list[0] != e {
		t.Errorf("got excursions %+v, %v, want the open one", list, err)
	}
	e.End = at.Add(time.Minute)
	if err := j.UpdateExcursion(t.Context(), e); err != nil {
		t.Fatal(err)
	}
	if list, err := j.Excursions(t.Context(), "suite-pressure", at.Add(time.Hour)); err != nil || len(list) != 0 {
		t.Errorf("got excursions %+v, %v, want none an hour later", list, err)
	}
	if list, err := j.Excursions(t.Context(), "suite-pressure", at); err != nil || len(list) != 1 || list[0] != e {
		t.Errorf("got excursions %+v, %v, want %+v", list, err, e)
	}
}

func TestRecomputedStandsBesideWhatWasThere(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "first")
	given := publishtest.Series("first", "suite-a", 1, 1500)
	add(t, j, given...)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	tool, err := journal.OpenTool(t.Context(), path, "recompute", nil)
	if err != nil {
		t.Fatal(err)
	}
	gen, err := tool.BeginGeneration(t.Context(), journal.Generation{Made: publishtest.Epoch(), Run: "first", Who: "mk", Why: "density corrected", Tag: "v2"})
	if err != nil {
		t.Fatal(err)
	}
	var batch []journal.Recomputed
	want := map[int64]convert.Result{}
	for row, err := range tool.Export(t.Context(), journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		if row.Seq%3 == 0 {
			continue
		}
		res := row.Result
		res.Differential *= 1.001
		res.Config = "c0ffee"
		want[row.ID] = res
		batch = append(batch, journal.Recomputed{Row: row.ID, Result: res})
	}
	if err := tool.AppendRecomputed(t.Context(), gen, batch); err != nil {
		t.Fatal(err)
	}
	if err := tool.AppendRecomputed(t.Context(), gen, batch[:1]); err == nil {
		t.Error("a result was recomputed twice in one generation")
	}
	if err := tool.EndGeneration(t.Context(), gen, publishtest.Epoch().Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	if err := tool.AppendRecomputed(t.Context(), gen, nil); !errors.Is(err, journal.ErrNoGeneration) {
		t.Errorf("got %v for an ended generation, want %v", err, journal.ErrNoGeneration)
	}
	got := 0
	for v, err := range tool.Recomputed(t.Context(), gen, journal.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		got++
		if d := publishtest.Difference(v.Result, want[v.Row]); d != "" || v.Name != want[v.Row].Name {
			t.Fatalf("row %d: %s", v.Row, d)
		}
	}
	list, err := tool.Generations(t.Context())
	if got != len(want) || err != nil || len(list) != 1 || list[0].Count != int64(got) || list[0].Ended.IsZero() || list[0].Tag != "v2" {
		t.Errorf("got %d results and generations %+v, %v, want %d in one", got, list, err, len(want))
	}
	for i, row := range all(t, tool.Reader, journal.Query{}) {
		if d := publishtest.Difference(row.Result, given[i]); d != "" {
			t.Fatalf("row %d was changed: %s", row.ID, d)
		}
	}
	if err := tool.Close(); err != nil {
		t.Fatal(err)
	}
	if runs := scalar(t, path, "SELECT count(*) FROM run"); runs != 1 {
		t.Errorf("got %d runs, want the tool to start none", runs)
	}
	missing := filepath.Join(t.TempDir(), "none.db")
	if _, err := journal.OpenTool(t.Context(), missing, "recompute", nil); err == nil {
		t.Error("a tool made a journal")
	}
}

// One row that cannot be read back holds nobody up: it is put aside with the reason, and the rest goes on.
func TestUndecodableRowIsPutAside(t *testing.T) {
	path := plainFile(t)
	j := open(t, path, "first")
	add(t, j, publishtest.Series("first", "suite-a", 1, 25)...)
	j.Close()
	execute(t, path, "UPDATE reading SET refusal = '{' WHERE id IN (1, 2, 10, 25)")
	j = open(t, path, "second")
	var seqs []uint64
	for after := int64(0); ; {
		rows, err := j.Rows(t.Context(), after, 2)
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) == 0 {
			break
		}
		for _, row := range rows {
			seqs, after = append(seqs, row.Seq), row.ID
		}
	}
	if len(seqs) != 21 {
		t.Errorf("got seqs %v, want the 21 that can be read", seqs)
	}
	put, err := j.Quarantined(t.Context(), journal.QuarantineNobody)
	if err != nil || len(put) != 4 || put[2].Name.Seq != 10 || put[2].Reason == "" {
		t.Errorf("got put aside %+v, %v, want seqs 1, 2, 10 and 25", put, err)
	}
	bad, good := 0, 0
	for _, err := range j.Export(t.Context(), journal.Query{}) {
		var undecodable *journal.UndecodableRow
		switch {
		case errors.As(err, &undecodable):
			bad++
		case err != nil:
			t.Fatal(err)
		default:
			good++
		}
	}
	if bad != 4 || good != 21 {
		t.Errorf("export: got %d good and %d bad rows, want 21 and 4", good, bad)
	}
}
