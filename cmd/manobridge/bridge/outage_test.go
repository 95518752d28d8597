package bridge_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/ingest/ingesttest"
	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// flow writes a frame of each instrument to the line every few milliseconds until halt is called.
func flow(t *testing.T, line *ingesttest.Line, every time.Duration) (sent *atomic.Int64, halt func()) {
	t.Helper()
	sent = new(atomic.Int64)
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(every)
		defer tick.Stop()
		for i := 0; ; i++ {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
			}
			line.Send(fmt.Sprintf("02,%.2f,21.0\n03,%.2f,21.5\n", 20+float64(i%2500)/10, 30+float64(i%2400)/10))
			sent.Add(2)
		}
	}()
	halt = func() { cancel(); <-ended }
	t.Cleanup(halt)
	return sent, halt
}

// settled tells whether every sink has all there is.
func settled(x *bench) func() bool {
	return func() bool {
		for _, d := range x.b.Deliveries() {
			if d.Waiting > 0 {
				return false
			}
		}
		return true
	}
}

// caughtUp tells whether every sink is as near as it comes while frames go on: the store gets them four times a second.
func caughtUp(x *bench) func() bool {
	return func() bool {
		for _, d := range x.b.Deliveries() {
			if d.Waiting > 300 { // about a second of them
				return false
			}
		}
		return true
	}
}

// goodRows gives the good rows of the journal by name.
func goodRows(t *testing.T, path string) map[convert.Name]publish.Row {
	t.Helper()
	kept := map[convert.Name]publish.Row{}
	for _, row := range rows(t, path) {
		if row.Status == convert.Good {
			kept[row.Name] = row
		}
	}
	return kept
}

// holdBoth holds that live and late messages came: else there was no outage.
func holdBoth(t *testing.T, s *publishtest.Subscriber) {
	t.Helper()
	backlog := 0
	list := s.Messages()
	for _, m := range list {
		if strings.HasSuffix(m.Topic, "/backlog") {
			backlog++
		}
	}
	if backlog == 0 || backlog == len(list) {
		t.Errorf("got %d live and %d late messages, want both: the outages were none", len(list)-backlog, backlog)
	}
}

// Broker, store and the way to them fail in every order while frames flow. Afterwards everything the journal has is at
// the subscriber and in the store with equal values, and nothing old came as a live value.
func TestOutagesLoseNothing(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt", "series")
	broker := publishtest.Mosquitto(t)
	store := publishtest.VictoriaMetrics(t)
	toBroker, toStore := publishtest.NewProxy(t, broker.Addr), publishtest.NewProxy(t, store.Addr)
	subscriber := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/test-hall/+/pressure", "manobridge/test-hall/+/backlog"})
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	toBroker.Refuse() // at the start nobody is there
	toStore.Refuse()
	const within = time.Second
	x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  mqtt: {url: "tcp://%s", live_within: %s, backlog_per_s: 5000}
  series: {url: "http://%s", org: lab, bucket: pressure}`, toBroker.Addr, within, toStore.Addr)))
	opened(t, x, line)
	sent, halt := flow(t, line, 4*time.Millisecond)
	more := func(n int64) {
		t.Helper()
		n += sent.Load()
		eventually(t, "frames", func() bool { return sent.Load() >= n })
	}
	more(600) // more than live_within
	for _, code := range []string{"code=broker-down ", "code=sink-down sink=mqtt", "code=sink-down sink=series"} {
		eventually(t, code, func() bool { return strings.Contains(x.log.String(), code) })
		if n := strings.Count(x.log.String(), code); n != 1 {
			t.Errorf("got %q said %d times while broker and store refuse from the start, want once:\n%s", code, n, x.log.String())
		}
	}
	toBroker.Pass()
	toStore.Pass()
	eventually(t, "the first outage made good", caughtUp(x))

	for range 6 { // mid-window, as frames never stop
		more(20 + rand.Int64N(60))
		toBroker.Cut()
		toStore.Cut()
	}
	broker.Stop()
	more(600)
	broker.Start()
	store.Stop() // this store acknowledges what it has in memory; killed, it loses seconds of that
	more(300)
	store.Start()
	eventually(t, "the outages made good", caughtUp(x))

	toBroker.Stall() // what is on the way is held, and comes too late
	more(800)
	toBroker.Cut()
	toBroker.Pass()
	more(100)
	// What a broker acknowledges and has not handed on when it is killed is lost with it; so it is let hand on first.
	toBroker.Refuse()
	broker.Kill()
	more(600)
	broker.Start()
	toBroker.Pass()
	more(100)
	halt()
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	eventually(t, "everything delivered", settled(x))
	x.end()

	kept := goodRows(t, path)
	if int64(len(kept)) != sent.Load() {
		t.Errorf("got %d good results in the journal, want %d, one of each frame", len(kept), sent.Load())
	}
	samples := publishtest.ReadVictoriaMetrics(t, store, "manometer")
	holdSamples(t, unrepeated(samples), kept, 1e-10)
	holdAll(t, ledger, path, far{subscriber: subscriber, within: within, stored: samples, resolution: time.Millisecond, digits: 1e-10})
	holdBoth(t, subscriber)
}

// A store that is killed in the middle of writes, and keeps what it has acknowledged, has everything afterwards.
func TestKilledStoreLosesNothing(t *testing.T) {
	ledger := publishtest.NewLedger(t, "series")
	store := publishtest.InfluxDB(t, "pressure")
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  series: {url: %q, org: lab, bucket: pressure}`, store.URL())))
	opened(t, x, line)
	sent, halt := flow(t, line, 4*time.Millisecond)
	for range 2 {
		n := sent.Load() + 100 + rand.Int64N(100)
		eventually(t, "frames", func() bool { return sent.Load() >= n })
		store.Kill()
		store.Start()
	}
	halt()
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	eventually(t, "everything delivered", settled(x))
	x.end()
	kept := goodRows(t, path)
	if int64(len(kept)) != sent.Load() {
		t.Errorf("got %d good results in the journal, want %d, one of each frame", len(kept), sent.Load())
	}
	samples := publishtest.ReadInfluxDB(t, store, "pressure", "manometer")
	holdSamples(t, samples, kept, 0)
	holdAll(t, ledger, path, far{stored: samples, resolution: 1})
}

// unrepeated takes out samples that were delivered twice: a delivery whose answer was lost is made again, and the store
// keeps both.
func unrepeated(samples []publishtest.Sample) []publishtest.Sample {
	seen := map[publishtest.Sample]bool{}
	var out []publishtest.Sample
	for _, s := range samples {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}
