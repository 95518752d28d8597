package publishtest

import (
	"fmt"
	"math"
	"strings"
	"time"

	"manobridge/convert"
	"manobridge/publish"
)

// Kept notes the rows of a journal, after its gaps: each seq of a run up to its last must be a row or in a gap. A sample goes
// to no sink, as the average that follows carries it.
func (l *Ledger) Kept(rows []publish.Row) {
	type stream struct{ run, instrument string }
	seqs := map[stream]map[uint64]bool{}
	last := map[stream]uint64{}
	for i := range rows {
		r := &rows[i]
		s := stream{r.Run, r.Instrument}
		if seqs[s] == nil {
			seqs[s] = map[uint64]bool{}
		}
		if seqs[s][r.Seq] {
			l.fault("%+v is in two rows", r.Name)
		}
		seqs[s][r.Seq], last[s] = true, max(last[s], r.Seq)
		if !r.Sample {
			l.Given(r.Result)
		}
	}
	for s, have := range seqs {
		for seq := uint64(1); seq < last[s]; seq++ {
			name := convert.Name{Run: s.run, Instrument: s.instrument, Seq: seq}
			l.mu.Lock()
			named := l.gaps[name]
			l.mu.Unlock()
			if !have[seq] && !named {
				l.fault("%+v was given a number and is neither in a row nor in a gap", name)
			}
		}
	}
}

// Messages notes what a subscriber got of one site. A live one may be no older than within, with a second for the way
// through broker and subscriber on a busy machine, and none may be kept by the broker.
func (l *Ledger) Messages(sink, site string, list []Message, within time.Duration) {
	const slack = time.Second
	for _, m := range list {
		l.Message(sink, site, m.Payload)
		p, err := publish.ParsePayload(m.Payload)
		if err != nil {
			continue // said by Message
		}
		if age := m.At.Sub(p.Time); age > within+slack && !strings.HasSuffix(m.Topic, "/backlog") {
			l.fault("%s delivered %s seq %d as a live value %v after it was read, want at most %v", sink, p.Instrument, p.Origin.Seq, age, within)
		}
		if m.Retained {
			l.fault("%s let the broker keep %s seq %d, want no value kept", sink, p.Instrument, p.Origin.Seq)
		}
	}
}

// Stored notes what a store gave back. It keeps times cut to a resolution, and numbers within a relative error.
func (l *Ledger) Stored(sink string, samples []Sample, resolution time.Duration, digits float64) {
	type key struct {
		instrument, field string
		ns                int64
	}
	cut := func(t time.Time) int64 { return t.UnixNano() / int64(resolution) }
	have := map[key][]float64{}
	for _, s := range samples {
		k := key{s.Instrument, s.Field, cut(s.Time)}
		have[k] = append(have[k], s.Value)
	}
	has := func(r *convert.Result, field string, want float64) bool {
		for _, v := range have[key{r.Instrument, field, cut(r.ReceivedAt)}] {
			if math.Abs(v-want) <= digits*math.Abs(want) {
				return true
			}
		}
		return false
	}
	l.mu.Lock()
	given := make([]convert.Result, 0, len(l.given))
	for _, r := range l.given {
		given = append(given, r)
	}
	l.mu.Unlock()
	for i := range given {
		r := &given[i]
		if !has(r, "seq", float64(r.Seq)) {
			continue // not there
		}
		l.saw(sink, r.Name, func(convert.Result) string {
			pa, ok := r.Pressure()
			if ok && !has(r, "differential_pressure_pa", pa) || ok && !has(r, "expanded_uncertainty_pa", r.ExpandedU) {
				return fmt.Sprintf("got other numbers at %v, want %v ± %v Pa", r.ReceivedAt, pa, r.ExpandedU)
			}
			return ""
		})
	}
}
