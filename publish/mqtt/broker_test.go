package mqtt_test

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/mqtt"
	"manobridge/publish/publishtest"
)

func TestLiveAndLateGoToTheirTopics(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt")
	b := publishtest.Mosquitto(t)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "pressure"), topic("+", "backlog")})
	s, stop := start(t, options(b.Addr, new(said)))
	ready(t, s)

	live, late := publishtest.Series("r1", room, 1, 1000), publishtest.Series("r0", filter, 1, 1000)
	ledger.Given(live...)
	ledger.Given(late...)
	var wg sync.WaitGroup
	for _, batch := range [][]publish.Row{rows(live, false), rows(late, true)} {
		wg.Go(func() {
			for len(batch) > 0 {
				n := min(400, len(batch))
				if err := s.Deliver(t.Context(), batch[:n]); err != nil {
					t.Errorf("Deliver: %v", err)
				}
				batch = batch[n:]
			}
		})
	}
	wg.Wait()
	stop()
	got := sub.WaitCount(t, 2000)
	if len(got) != 2000 {
		t.Errorf("got %d messages, want 2000: the connection was never lost", len(got))
	}
	var seq [2]uint64
	for _, m := range got {
		ledger.Message("mqtt", site, m.Payload)
		p, err := publish.ParsePayload(m.Payload)
		if err != nil {
			t.Fatal(err)
		}
		want, i := topic(room, "pressure"), 0
		if p.Origin.Run == "r0" {
			want, i = topic(filter, "backlog"), 1
		}
		if m.Topic != want || m.QoS != 1 || m.Retained {
			t.Errorf("got %s at QoS %d retained %t, want %s at QoS 1 not retained", m.Topic, m.QoS, m.Retained, want)
		}
		if seq[i]++; p.Origin.Seq != seq[i] {
			t.Fatalf("%s: got seq %d, want %d: in order", m.Topic, p.Origin.Seq, seq[i])
		}
	}
}

func TestLateSubscriberSeesTheRetained(t *testing.T) {
	b := publishtest.Mosquitto(t)
	s, _ := start(t, options(b.Addr, new(said)))
	good := publishtest.Result("r1", room, 1)
	s.Observe(&good)
	ready(t, s)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "+")})
	got := sub.WaitCount(t, 4)
	for name, text := range map[string]string{
		topic(room, "state"):      `"status":"good"`,
		topic(filter, "state"):    `"causes":["no-reading-yet"]`,
		topic(room, "about"):      `"unit":"Pa"`,
		topic(bridge, "presence"): `"presence":"present"`,
	} {
		m, _ := last(got, name)
		if !strings.Contains(string(m.Payload), text) || !m.Retained || m.QoS != 1 {
			t.Errorf("%s: got %q retained %t at QoS %d, want one with %s, retained, at QoS 1", name, m.Payload, m.Retained, m.QoS, text)
		}
	}
	bad := publishtest.Refused("r1", room, 2)
	s.Observe(&bad)
	sub.Wait(t, "the state on its change", func(m []publishtest.Message) bool { return has(m, topic(room, "state"), `"status":"bad"`) })
}

func TestStateIsRepeatedWhileAReadingStandsBehindIt(t *testing.T) {
	b := publishtest.Mosquitto(t)
	opt := options(b.Addr, new(said))
	opt.StateEvery, opt.ValidFor = 10*time.Millisecond, time.Minute
	var mu sync.Mutex
	now := time.Now()
	opt.Now = func() time.Time { mu.Lock(); defer mu.Unlock(); return now }
	s, _ := start(t, opt)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic(room, "state"), topic(filter, "state")})
	good := publishtest.Result("r1", room, 1)
	s.Observe(&good)
	count := func(name string) (n int) {
		for _, m := range sub.Messages() {
			if m.Topic == topic(name, "state") && !m.Retained {
				n++
			}
		}
		return n
	}
	publishtest.Eventually(t, "repeated states", func() bool { return count(room) > 3 && has(sub.Messages(), topic(room, "state"), "good") })
	mu.Lock()
	now = now.Add(time.Minute + time.Second)
	mu.Unlock()
	// One more may be on its way from before; after that only the other, bad one is repeated.
	from := count(filter)
	publishtest.Eventually(t, "the bad state repeated", func() bool { return count(filter) > from+3 })
	stopped, from := count(room), count(filter)
	publishtest.Eventually(t, "the bad state repeated", func() bool { return count(filter) > from+5 })
	if got := count(room); got != stopped {
		t.Errorf("got the good state %d more times, want 0: no reading for longer than it is valid", got-stopped)
	}
}

func TestWillTellsOfALoss(t *testing.T) {
	b := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, b.Addr)
	log := new(said)
	s, _ := start(t, options(proxy.Addr, log))
	ready(t, s)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic(bridge, "presence")})
	presence := func(word string) func([]publishtest.Message) bool {
		return func(m []publishtest.Message) bool {
			return has(m, topic(bridge, "presence"), `"presence":"`+word+`"`)
		}
	}
	sub.Wait(t, "present", presence("present"))
	proxy.Refuse()
	sub.Wait(t, "lost, by the will", presence("lost"))
	proxy.Pass()
	sub.Wait(t, "present again", presence("present"))
	ready(t, s)
	if down, up := log.times("broker-down"), log.times("broker-up"); down != 1 || up != 2 {
		t.Errorf("got %d losses and %d connections logged, want 1 and 2:\n%s", down, up, log.text())
	}
}

func TestCloseLeaves(t *testing.T) {
	b := publishtest.Mosquitto(t)
	s, stop := start(t, options(b.Addr, new(said)))
	good := publishtest.Result("r1", room, 1)
	s.Observe(&good)
	ready(t, s)
	stop()
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "+")})
	got := sub.WaitCount(t, 4)
	for name, text := range map[string]string{
		topic(bridge, "presence"): `"presence":"leaving"`,
		topic(room, "state"):      `"causes":["bridge-stopping"]`,
		topic(filter, "state"):    `"status":"bad"`,
	} {
		if !has(got, name, text) {
			m, _ := last(got, name)
			t.Errorf("%s: got %q, want one with %s", name, m.Payload, text)
		}
	}
	e := deliverError(t, s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 2), false)))
	if e.Class != publish.Transient || e.Acked != 0 {
		t.Errorf("after Close: got class %d with %d acknowledged, want %d with 0", e.Class, e.Acked, publish.Transient)
	}
}

func TestMissingBrokerIsWaitedFor(t *testing.T) {
	b := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, b.Addr)
	proxy.Refuse()
	log := new(said)
	s, _ := start(t, options(proxy.Addr, log))
	publishtest.Eventually(t, "the loss logged", func() bool { return log.times("broker-down") == 1 })
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := s.Ready(ctx); err == nil {
		t.Error("Ready: got nil, want an error: there is no broker")
	}
	e := deliverError(t, s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 2), false)))
	if e.Class != publish.Transient || e.Code != "broker-down" {
		t.Errorf("got %s of class %d, want broker-down of class %d", e.Code, e.Class, publish.Transient)
	}
	proxy.Pass()
	ready(t, s)
	if down, up := log.times("broker-down"), log.times("broker-up"); down != 1 || up != 1 || !strings.Contains(log.text(), "outage_s=") {
		t.Errorf("got %d times down and %d up logged, want each once, with how long:\n%s", down, up, log.text())
	}
}

// Through the outbox, as in the bridge: whatever is cut, every row arrives, and no innocent row is put aside.
func TestConnectionsCutMidWindow(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt")
	b := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, b.Addr)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "pressure"), topic("+", "backlog")})
	opt := options(proxy.Addr, new(said))
	opt.WriteWithin = 500 * time.Millisecond
	s, stop := start(t, opt)
	journal := publishtest.NewRows()
	live, late := publishtest.Series("r1", room, 1, 2000), publishtest.Series("r0", filter, 1, 2000)
	ledger.Given(live...)
	ledger.Given(late...)
	journal.Add(late...)
	outbox, finish := startOutbox(t, s, journal)
	// Cut whenever some more messages have come, so in the middle of a window.
	cuts := 0
	for i := 0; i < len(live); i += 100 {
		journal.Add(live[i : i+100]...)
		from := len(sub.Messages())
		publishtest.Eventually(t, "messages", func() bool { return len(sub.Messages()) > from || outbox.Stats().Lag == 0 })
		proxy.Cut()
		cuts++
	}
	finish()
	stop()
	waitRows(t, sub, 4000)
	for _, m := range sub.Messages() {
		ledger.Message("mqtt", site, m.Payload)
	}
	if n := len(journal.Quarantined("mqtt")); n > 0 {
		t.Errorf("got %d rows put aside, want 0: a cut is no fault of a row", n)
	}
	t.Logf("%d cuts, %d connections, %d messages of 4000 rows", cuts, proxy.Taken(), len(sub.Messages()))
}

func BenchmarkDeliver(b *testing.B) {
	server := publishtest.Mosquitto(b)
	s, err := mqtt.New(options(server.Addr, new(said)))
	if err != nil {
		b.Fatal(err)
	}
	ran := make(chan error, 1)
	go func() { ran <- s.Run(context.Background()) }()
	batch := rows(publishtest.Series("r1", room, 1, 500), false)
	if err := s.Ready(context.Background()); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := s.Deliver(context.Background(), batch); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N*len(batch))/b.Elapsed().Seconds(), "rows/s")
	if err := s.Close(); err != nil || <-ran != nil {
		b.Error("the sink did not close")
	}
}
