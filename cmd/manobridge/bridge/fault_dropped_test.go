package bridge_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"manobridge/cmd/manobridge/bridge"
	"manobridge/ingest"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/journal"
	"manobridge/publish/publishtest"
)

// The clock of the machine is ten days ahead, and the store answers 204 to results from the future and drops them. That is
// found within one interval, and every result is named with the reason.
func TestStoreThatDropsWhatIsFromTheFuture(t *testing.T) {
	ledger := publishtest.NewLedger(t, "series")
	store := publishtest.VictoriaMetrics(t)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  series: {url: %q, bucket: pressure, read_back: 3s}`, store.URL())), func(o *bridge.Options) {
		began := time.Now()
		o.Clock = ingest.Clock{Now: func() time.Time { return time.Now().AddDate(0, 0, 10) }, SinceStart: func() time.Duration { return time.Since(began) }}
	})
	opened(t, x, line)
	line.Send(strings.Repeat("02,75.30,21.0\n03,80.10,21.5\n", 20))
	eventually(t, "every frame", func() bool { return x.b.Counts().Good >= 40 })
	all := int64(x.b.Counts().Readings)
	eventually(t, "every result so far in quarantine", func() bool { return x.b.Deliveries()[0].Quarantined >= all })
	x.end()
	holdAll(t, ledger, path, far{stored: publishtest.ReadVictoriaMetrics(t, store, "manometer"), resolution: time.Millisecond, digits: 1e-10})
	r, err := journal.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = r.Close() }()
	named, err := r.Quarantined(t.Context(), "series")
	if err != nil {
		t.Fatal(err)
	}
	left := goodRows(t, path)
	for _, q := range named {
		delete(left, q.Name)
		if q.Reason != "acknowledged and dropped" {
			t.Errorf("row %d: got the reason %q, want that it was acknowledged and dropped", q.Row, q.Reason)
		}
	}
	if len(left) > 0 {
		t.Errorf("got %d good results not named, want none", len(left))
	}
	events, err := r.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, e := range events {
		n[e.Code]++
	}
	if n["row-dropped"] == 0 || n["row-dropped-again"] == 0 {
		t.Errorf("got the events %v, want row-dropped and row-dropped-again among them", n)
	}
	if got := strings.Count(x.log.String(), "code=row-dropped "); got != 1 {
		t.Errorf("got row-dropped said %d times, want once", got)
	}
}
