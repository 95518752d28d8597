package bridge_test

import (
	"strings"
	"testing"

	"manobridge/ingest/ingesttest"
)

// What the instruments sent while no bridge was listening, and the system kept, is old: it must not become a reading with
// the time of the start. The gap of the time between tells of it.
func TestWhatWasSentBeforeTheStartIsNoReading(t *testing.T) {
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, ""))
	opened(t, x, line)
	line.Send("02,100.0,21.0\n03,100.0,21.0\n")
	eventually(t, "the readings", func() bool { return x.b.Counts().Good == 2 })
	x.end()
	line.Send(strings.Repeat("02,200.0,21.0\n03,200.0,21.0\n", 20)) // the line is held open by another
	x = start(t, config(t, line.Path, path, ""))
	opened(t, x, line)
	line.Send("02,110.0,21.0\n03,110.0,21.0\n")
	eventually(t, "the new readings", func() bool {
		n := 0
		for _, row := range rows(t, path) {
			if strings.Contains(string(row.Frame), "110.0") {
				n++
			}
		}
		return n == 2
	})
	x.end()
	for _, row := range rows(t, path) {
		if strings.Contains(string(row.Frame), "200.0") {
			t.Errorf("got %q as a reading of %v, want none: it was sent while no bridge was listening", row.Frame, row.ReceivedAt)
		}
	}
}
