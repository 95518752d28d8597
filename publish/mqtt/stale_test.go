package mqtt_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// A broker that acknowledges slowly: rows that were fresh when their batch began, and are old when their turn comes, go
// out as late ones.
func TestRowsThatBecomeOldWhileWaitingAreLate(t *testing.T) {
	const (
		rows   = 600
		within = 300 * time.Millisecond
		slack  = 200 * time.Millisecond // from the decision to the broker's reading of it
	)
	var began time.Time
	var mu sync.Mutex
	live, late := 0, 0
	var latest time.Duration // of a live one
	pace := time.NewTicker(2 * time.Millisecond)
	defer pace.Stop()
	b := newFake(t, func(topic string) answer {
		if isResult(topic) {
			<-pace.C // 500 a second
			mu.Lock()
			defer mu.Unlock()
			if strings.HasSuffix(topic, "/pressure") {
				live++
				latest = max(latest, time.Since(began))
			} else {
				late++
			}
		}
		return ack
	})
	opt := options(b.addr, new(said))
	opt.Window = 16
	s, _ := start(t, opt)
	ready(t, s)
	journal := publishtest.NewRows()
	results := publishtest.Series("r1", room, 1, rows)
	for i := range results {
		results[i].SinceStart = 0
	}
	journal.Add(results...)
	began = time.Now()
	o, err := publish.NewOutbox(publish.Options{Rows: journal, Sink: s, Run: "r1", LiveWithin: within,
		SinceStart: func() time.Duration { return time.Since(began) }, BacklogPerSecond: 1e5})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ran := make(chan error, 1)
	go func() { ran <- o.Run(ctx) }()
	publishtest.Eventually(t, "every row acknowledged", func() bool { return o.Stats().Lag == 0 })
	cancel()
	if err := <-ran; err != nil {
		t.Errorf("outbox: %v", err)
	}
	mu.Lock()
	defer mu.Unlock()
	if latest > within+slack {
		t.Errorf("got a live row %v after it was read, want at most %v", latest, within)
	}
	if live == 0 || late == 0 || live+late < rows {
		t.Errorf("got %d live and %d late messages, want some of each and %d in all", live, late, rows)
	}
	if st := o.Stats(); st.Quarantined != 0 || st.LastError != "" {
		t.Errorf("got %d put aside and error %q, want none: a slow broker is no broken one", st.Quarantined, st.LastError)
	}
}
