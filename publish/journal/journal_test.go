package journal_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"manobridge/convert"
	"manobridge/convert/quantity"
	"manobridge/publish"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

func TestMain(m *testing.M) {
	beKilled() // does not return in the process that is there to be killed
	goleak.VerifyTestMain(m)
}

func open(t testing.TB, path, run string) *journal.Journal {
	t.Helper()
	j, err := journal.Open(t.Context(), journal.Options{Path: path, Run: run, Bridge: "rack-pc", Started: publishtest.Epoch()})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return j
}

func file(t testing.TB) string { return filepath.Join(t.TempDir(), "a b?c%20#.db") }

func add(t testing.TB, j *journal.Journal, results ...convert.Result) {
	t.Helper()
	if err := j.Append(t.Context(), results); err != nil {
		t.Fatal(err)
	}
}

func all(t testing.TB, r *journal.Reader, q journal.Query) []publish.Row {
	t.Helper()
	var out []publish.Row
	for row, err := range r.Export(t.Context(), q) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, row)
	}
	return out
}

func TestRowIsTheIdenticalResult(t *testing.T) {
	j := open(t, file(t), "now")
	after := int64(0)
	rapid.Check(t, func(rt *rapid.T) {
		want := rapid.SliceOfN(publishtest.AnyResult(), 1, 20).Draw(rt, "results")
		if err := j.Append(context.Background(), want); err != nil {
			rt.Fatal(err)
		}
		rows, err := j.Reader.Rows(context.Background(), after, 1000) // out of the file; TestRowsInMemoryAreThoseOfTheFile has the rest
		if err != nil {
			rt.Fatal(err)
		}
		if len(rows) != len(want) {
			rt.Fatalf("got %d rows, want %d", len(rows), len(want))
		}
		for i, row := range rows {
			if row.ID <= after {
				rt.Fatalf("row number %d comes after %d", row.ID, after)
			}
			after = row.ID
			// A reading within 100 µs before the instrument's latest takes the next free nanosecond after it.
			if bump := row.ReceivedAt.Sub(want[i].ReceivedAt); bump < 0 || bump > 100*time.Microsecond+100 {
				rt.Fatalf("row %d: time moved by %v, want 0 to 100 µs", row.ID, bump)
			}
			want[i].ReceivedAt = row.ReceivedAt
			if d := publishtest.Difference(row.Result, want[i]); d != "" {
				rt.Fatalf("row %d: %s", row.ID, d)
			}
		}
	})
}

func TestResultThatIsNoNumberBecomesAGap(t *testing.T) {
	j := open(t, file(t), "now")
	nan, inf := math.NaN(), math.Inf(1)
	spoil := map[string]func(r *convert.Result){
		"pressure":    func(r *convert.Result) { r.Differential = quantity.DifferentialPressure(nan) },
		"u":           func(r *convert.Result) { r.CombinedU = inf },
		"U":           func(r *convert.Result) { r.ExpandedU = nan },
		"k":           func(r *convert.Result) { r.CoverageFactor = -inf },
		"degrees":     func(r *convert.Result) { r.EffectiveDOF = nan },
		"head":        func(r *convert.Result) { r.Head = convert.Some(quantity.Length(nan)) },
		"absolute":    func(r *convert.Result) { r.Kind, r.Absolute = convert.AbsoluteValue, quantity.AbsolutePressure(inf) },
		"neg degrees": func(r *convert.Result) { r.EffectiveDOF = -inf },
	}
	seq := uint64(0)
	for name, f := range spoil {
		seq += 2
		good, bad := publishtest.Result("now", "suite-a", seq-1), publishtest.Result("now", "suite-a", seq)
		f(&bad)
		err := j.Append(t.Context(), []convert.Result{bad, good})
		var refused *journal.RefusedResult
		if !errors.As(err, &refused) || refused.Name != bad.Name {
			t.Errorf("%s: got %v, want a refusal that names %v", name, err, bad.Name)
		}
	}
	if got, want := len(all(t, j.Reader, journal.Query{})), len(spoil); got != want {
		t.Errorf("got %d rows kept, want %d", got, want)
	}
	gaps, err := j.Gaps(t.Context())
	if err != nil || len(gaps) != len(spoil) {
		t.Fatalf("got %d gaps, %v, want %d", len(gaps), err, len(spoil))
	}
	for i, g := range gaps {
		if want := uint64(2 * (i + 1)); g.FromSeq != want || g.UntilSeq != want || g.Count != 1 || g.Cause != journal.CauseNotKept {
			t.Errorf("gap %d: got %+v, want seq %d once with cause %s", i, g, want, journal.CauseNotKept)
		}
	}
}

func TestTimesOfAnInstrumentAreUnique(t *testing.T) {
	path := file(t)
	j := open(t, path, "first")
	at := func(run string, seq uint64, ns int64) convert.Result {
		r := publishtest.Result(run, "suite-a", seq)
		r.ReceivedAt = time.Unix(0, ns).UTC()
		return r
	}
	const start = int64(1_772_000_000_000_000_000)
	var seq uint64
	var batch []convert.Result
	for i := range int64(1500) { // more than two spans
		seq++
		batch = append(batch, at("first", seq, start+i/2*1000)) // every time twice
	}
	add(t, j, batch...)
	add(t, j, publishtest.Result("first", "suite-b", 1))
	batch = nil
	for i := range int64(300) { // the clock is set back to the start
		seq++
		batch = append(batch, at("first", seq, start+i*1000))
	}
	add(t, j, batch...)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j = open(t, path, "second")
	add(t, j, at("second", 1, start), at("second", 2, start+749*1000), at("second", 3, start+749*1000+1))

	seen := map[int64]uint64{}
	for _, row := range all(t, j.Reader, journal.Query{Instruments: []string{"suite-a"}}) {
		ns := row.ReceivedAt.UnixNano()
		if other, twice := seen[ns]; twice {
			t.Fatalf("seq %d and %d of suite-a are both kept at %d ns", other, row.Seq, ns)
		}
		seen[ns] = row.Seq
	}
	if len(seen) != 1803 {
		t.Errorf("got %d rows, want 1803", len(seen))
	}
}

// The clock is set back again and again, and the same minutes are lived once more by each run: every reading has a time of
// its own, moved by no more than there were readings at it before.
func TestTheSameMinutesLivedAgain(t *testing.T) {
	path := file(t)
	const runs, readings = 4, 1200 // of a second each, and so of many minutes
	for run := range runs {
		name := fmt.Sprint("run", run)
		j := open(t, path, name)
		var batch []convert.Result
		for seq := range uint64(readings) {
			r := publishtest.Result(name, "suite-a", seq+1)
			r.ReceivedAt = publishtest.Epoch().Add(time.Duration(seq) * time.Second)
			batch = append(batch, r)
		}
		add(t, j, batch...)
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	seen := map[time.Time]bool{}
	for _, row := range all(t, open(t, path, "after").Reader, journal.Query{}) {
		if seen[row.ReceivedAt] {
			t.Fatalf("got two rows at %v, want one", row.ReceivedAt)
		}
		seen[row.ReceivedAt] = true
		if moved := row.ReceivedAt.Sub(publishtest.Epoch()) % time.Second; moved >= runs {
			t.Errorf("%+v: got its time moved by %v, want less than %d ns", row.Name, moved, runs)
		}
	}
	if len(seen) != runs*readings {
		t.Errorf("got %d rows, want %d", len(seen), runs*readings)
	}
}

func TestExportChoosesByInstrumentAndTime(t *testing.T) {
	j := open(t, file(t), "now")
	for _, name := range []string{"suite-a", "suite-b"} {
		add(t, j, publishtest.Series("now", name, 1, 1200)...)
	}
	r, err := journal.OpenReader(t.Context(), dbPath(j))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	since, until := publishtest.Epoch().Add(30*time.Second), publishtest.Epoch().Add(60*time.Second)
	for _, tc := range []struct {
		q    journal.Query
		want int
	}{
		{journal.Query{}, 2400},
		{journal.Query{Instruments: []string{"suite-b"}}, 1200},
		{journal.Query{Since: since}, 2 * (1200 - 299)}, // seq 300 is at 30 s
		{journal.Query{Until: since}, 2 * 299},
		{journal.Query{Since: since, Until: until}, 600},
		{journal.Query{Since: since, Until: until, Instruments: []string{"suite-a"}}, 300},
		{journal.Query{Instruments: []string{"nobody"}}, 0},
	} {
		if got := len(all(t, r, tc.q)); got != tc.want {
			t.Errorf("%+v: got %d rows, want %d", tc.q, got, tc.want)
		}
	}
}

func TestRunsGapsAndRecordsReadBack(t *testing.T) {
	path := file(t)
	j := open(t, path, "first")
	add(t, j, publishtest.Series("first", "suite-a", 1, 700)...)
	add(t, j, publishtest.Series("first", "suite-b", 1, 3)...)
	if got := j.Previous(); len(got) != 0 {
		t.Errorf("got %v before the first run, want nothing", got)
	}
	from := publishtest.Epoch()
	id, err := j.OpenGap(t.Context(), journal.Gap{Instrument: "suite-a", Run: "first", Cause: convert.Silence, From: from, Note: "no frame"})
	if err != nil {
		t.Fatal(err)
	}
	if err := j.CloseGap(t.Context(), id, from.Add(time.Minute), 0, 0); err != nil {
		t.Fatal(err)
	}
	refusal := journal.PortRefusal{Run: "first", Port: "rack-a", ReceivedAt: from, Cause: convert.FrameAddress, Frame: []byte("09,1,2"), Note: `address "09" has no instrument`, Count: 3}
	event := journal.Event{Run: "first", Time: from, SinceStart: time.Second, Code: "clock-step", Note: "set back by 2 s"}
	set := journal.CoefficientSet{Hash: "5f1c0de5a9c27b31", Instrument: "suite-a", Text: "slope_deg: 11.54"}
	for _, err := range []error{
		j.RecordPortRefusal(t.Context(), refusal), j.RecordEvent(t.Context(), event),
		j.AddCoefficientSet(t.Context(), set), j.AddCoefficientSet(t.Context(), set),
		j.Quarantine(t.Context(), "series", 5, "field type conflict"), j.Quarantine(t.Context(), "series", 5, "again"),
		j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: 9, Late: []publish.Range{{From: 1, Until: 2}, {From: 4, Until: 6}}}),
		j.SaveCursor(t.Context(), "mqtt", publish.Cursor{Live: 11, Late: []publish.Range{{From: 4, Until: 5}}}),
		j.Close(),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}

	j = open(t, path, "second")
	tails := map[string]uint64{}
	for _, tail := range j.Previous() {
		tails[tail.Instrument] = tail.Seq
	}
	if tails["suite-a"] != 700 || tails["suite-b"] != 3 || len(tails) != 2 {
		t.Errorf("got last readings %v, want suite-a 700 and suite-b 3", tails)
	}
	if gaps, err := j.Gaps(t.Context()); err != nil || len(gaps) != 1 || gaps[0].Until.Sub(gaps[0].From) != time.Minute {
		t.Errorf("got gaps %+v, %v, want one of a minute", gaps, err)
	}
	if got, err := j.PortRefusals(t.Context()); err != nil || len(got) != 1 || got[0].Count != 3 || string(got[0].Frame) != "09,1,2" {
		t.Errorf("got port refusals %+v, %v, want %+v", got, err, refusal)
	}
	if got, err := j.Events(t.Context()); err != nil || len(got) != 1 || got[0].Note != event.Note || got[0].SinceStart != time.Second {
		t.Errorf("got events %+v, %v, want %+v", got, err, event)
	}
	if got, ok, err := j.CoefficientSet(t.Context(), set.Hash); err != nil || !ok || got != set {
		t.Errorf("got coefficient set %+v, %v, %v, want %+v", got, ok, err, set)
	}
	if got, err := j.Quarantined(t.Context(), "series"); err != nil || len(got) != 1 || got[0].Name.Seq != 5 || got[0].Reason != "again" {
		t.Errorf("got quarantine %+v, %v, want seq 5 once", got, err)
	}
	if got, ok, err := j.Cursor(t.Context(), "mqtt"); err != nil || !ok || got.Live != 11 || len(got.Late) != 1 || got.Late[0] != (publish.Range{From: 4, Until: 5}) {
		t.Errorf("got cursor %+v, %v, %v, want what was saved last", got, ok, err)
	}
	if _, ok, err := j.Cursor(t.Context(), "series"); err != nil || ok {
		t.Errorf("got a cursor for a sink that never saved one (%v)", err)
	}
	runs, err := j.Runs(t.Context())
	if err != nil || len(runs) != 2 || runs[0].Ended.IsZero() || !runs[1].Ended.IsZero() {
		t.Errorf("got runs %+v, %v, want the first ended and the second not", runs, err)
	}
}

func TestWaitReturnsWhenARowIsDurable(t *testing.T) {
	j := open(t, file(t), "now")
	woken := make(chan error, 1)
	go func() { woken <- j.Wait(t.Context(), 0) }()
	add(t, j, publishtest.Result("now", "suite-a", 1))
	if err := <-woken; err != nil {
		t.Fatal(err)
	}
	if j.Last() != 1 {
		t.Errorf("got last row %d, want 1", j.Last())
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := j.Wait(ctx, 1); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the end of the context", err)
	}
}
