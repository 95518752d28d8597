package publishtest

import (
	"fmt"
	"sync"
	"testing"

	"manobridge/convert"
	"manobridge/publish"
)

// Ledger holds what was given against what became of it: when the test ends, every result given must be delivered to
// every sink unaltered, or put aside for that sink, or named in a gap. Delivered twice is no fault, delivered altered
// is, and so is a result that nobody gave. The test must also end with no more goroutines and open files than it had
// when the ledger was made.
type Ledger struct {
	sinks []string

	mu    sync.Mutex
	given map[convert.Name]convert.Result
	fate  map[string]map[convert.Name]bool // by sink
	gaps  map[convert.Name]bool
	wrong []string
}

// NewLedger starts a ledger for these sinks. It is checked when the test ends, before what is cleaned up later. Call it
// first, for the sake of Watch.
func NewLedger(t testing.TB, sinks ...string) *Ledger {
	t.Helper()
	Watch(t)
	l := newLedger(sinks)
	t.Cleanup(func() {
		t.Helper()
		for _, fault := range l.Faults() {
			t.Error("ledger: " + fault)
		}
	})
	return l
}

func newLedger(sinks []string) *Ledger {
	l := &Ledger{sinks: sinks, given: map[convert.Name]convert.Result{}, fate: map[string]map[convert.Name]bool{},
		gaps: map[convert.Name]bool{}}
	for _, s := range sinks {
		l.fate[s] = map[convert.Name]bool{}
	}
	return l
}

// Given notes results handed to the journal.
func (l *Ledger) Given(results ...convert.Result) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, r := range results {
		l.given[r.Name] = r
	}
}

// Gap notes a recorded gap, both ends included.
func (l *Ledger) Gap(run, instrument string, from, until uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for seq := from; seq <= until; seq++ {
		l.gaps[convert.Name{Run: run, Instrument: instrument, Seq: seq}] = true
	}
}

// PutAside notes that the result was put aside for the sink.
func (l *Ledger) PutAside(sink string, name convert.Name) {
	l.saw(sink, name, func(convert.Result) string { return "" })
}

// Delivered notes rows a sink has taken.
func (l *Ledger) Delivered(sink string, rows ...publish.Row) {
	for i := range rows {
		l.saw(sink, rows[i].Name, func(want convert.Result) string { return Difference(rows[i].Result, want) })
	}
}

// Message notes a message on one result, as a subscriber got it.
func (l *Ledger) Message(sink, site string, payload []byte) {
	p, err := publish.ParsePayload(payload)
	if err != nil || p.Origin == nil {
		l.fault("%s delivered what is no message: %v: %q", sink, err, payload)
		return
	}
	l.saw(sink, convert.Name{Run: p.Origin.Run, Instrument: p.Instrument, Seq: p.Origin.Seq},
		func(want convert.Result) string {
			m := publish.NewMessage(site, &want)
			if w := m.Append(nil); string(w) != string(payload) {
				return fmt.Sprintf("got %s, want %s", payload, w)
			}
			return ""
		})
}

func (l *Ledger) saw(sink string, name convert.Name, difference func(want convert.Result) string) {
	l.mu.Lock()
	want, ok := l.given[name]
	if ok && l.fate[sink] != nil {
		l.fate[sink][name] = true
	}
	known := l.fate[sink] != nil
	l.mu.Unlock()
	switch {
	case !known:
		l.fault("%s is a sink the ledger was not told of", sink)
	case !ok:
		l.fault("%s delivered %+v, which nobody gave", sink, name)
	default:
		if d := difference(want); d != "" {
			l.fault("%s delivered %+v altered: %s", sink, name, d)
		}
	}
}

func (l *Ledger) fault(format string, args ...any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.wrong = append(l.wrong, fmt.Sprintf(format, args...))
}

// Missing gives what has neither reached the sink nor been put aside or named in a gap.
func (l *Ledger) Missing(sink string) []convert.Name {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []convert.Name
	for name := range l.given {
		if !l.fate[sink][name] && !l.gaps[name] {
			out = append(out, name)
		}
	}
	return out
}

// Faults gives everything that does not balance, a line each.
func (l *Ledger) Faults() []string {
	var out []string
	for _, sink := range l.sinks {
		if missing := l.Missing(sink); len(missing) > 0 {
			out = append(out, fmt.Sprintf("%s: got %d results neither delivered nor recorded as not delivered, want 0; one is %+v",
				sink, len(missing), missing[0]))
		}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	return append(out, l.wrong...)
}
