package mqtt_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/mqtt"
	"manobridge/publish/publishtest"
)

// startOutbox delivers what the journal holds to the sink. finish waits until that is done, and stops it.
func startOutbox(t *testing.T, s *mqtt.Sink, journal *publishtest.Rows) (o *publish.Outbox, finish func()) {
	t.Helper()
	o, err := publish.NewOutbox(publish.Options{Rows: journal, Sink: s, Run: "r1",
		SinceStart: func() time.Duration { return 0 }, BacklogPerSecond: 1e5,
		BackoffMin: time.Millisecond, BackoffMax: 20 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ran := make(chan error, 1)
	go func() { ran <- o.Run(ctx) }()
	end := sync.OnceFunc(func() {
		cancel()
		if err := <-ran; err != nil {
			t.Errorf("outbox: %v", err)
		}
	})
	t.Cleanup(end)
	return o, func() {
		t.Helper()
		publishtest.Eventually(t, "every row acknowledged or put aside", func() bool { return o.Stats().Lag == 0 })
		end()
	}
}

// waitRows waits until the subscriber has got n different rows.
func waitRows(t *testing.T, sub *publishtest.Subscriber, n int) {
	t.Helper()
	seen := map[convert.Name]bool{}
	sub.Wait(t, "every row at the subscriber", func(m []publishtest.Message) bool {
		for _, m := range m {
			if p, err := publish.ParsePayload(m.Payload); err == nil {
				seen[convert.Name{Run: p.Origin.Run, Instrument: p.Instrument, Seq: p.Origin.Seq}] = true
			}
		}
		return len(seen) == n
	})
}

// A row on which a broker always hangs up must not stop the others, nor take any of them with it.
func TestOnlyThePoisonRowIsPutAside(t *testing.T) {
	got := map[string]int{}
	b := newFake(t, func(topic string) answer {
		if isResult(topic) && strings.Contains(topic, "poison") {
			return hangUp
		}
		got[topic]++
		return ack
	})
	opt := options(b.addr, new(said))
	opt.WriteWithin = 500 * time.Millisecond
	s, _ := start(t, opt)
	journal := publishtest.NewRows()
	journal.Add(publishtest.Series("r0", filter, 1, 60)...)
	journal.Add(publishtest.Series("r1", room, 1, 30)...)
	journal.Add(publishtest.Result("r1", "poison", 1))
	journal.Add(publishtest.Series("r1", room, 31, 60)...)
	_, finish := startOutbox(t, s, journal)
	finish()
	aside := journal.Quarantined("mqtt")
	if reason := aside[91]; len(aside) != 1 || !strings.Contains(reason, "lost 5 times") {
		t.Errorf("got put aside %v, want row 91 alone, lost 5 times on it", aside)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, name := range []string{topic(room, "pressure"), topic(filter, "backlog")} {
		if got[name] < 60 {
			t.Errorf("%s: got %d messages, want 60 or more", name, got[name])
		}
	}
}

// A network that swallows everything: the window is given up, the loss said, and everything goes after it.
func TestStalledNetwork(t *testing.T) {
	b := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, b.Addr)
	log := new(said)
	opt := options(proxy.Addr, log)
	opt.AckWithin = 200 * time.Millisecond
	s, stop := start(t, opt)
	ready(t, s)
	proxy.Stall()
	e := deliverError(t, s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 300), false)))
	if e.Class != publish.Transient || e.Code != "broker-silent" {
		t.Errorf("got %s of class %d, want broker-silent of class %d", e.Code, e.Class, publish.Transient)
	}
	publishtest.Eventually(t, "the loss said", func() bool { return log.times("broker-down") == 1 })
	proxy.Pass()
	sub := publishtest.Subscribe(t, b.Addr, []string{topic(room, "pressure")})
	ready(t, s)
	if err := s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 300), false)); err != nil {
		t.Errorf("Deliver: %v", err)
	}
	sub.WaitCount(t, 300)
	proxy.Stall()
	stop() // must end all the same
}

// With nothing to say a dead connection is found by the keep-alive.
func TestIdleStallIsFound(t *testing.T) {
	b := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, b.Addr)
	log := new(said)
	opt := options(proxy.Addr, log)
	opt.KeepAlive, opt.AckWithin = time.Second, 500*time.Millisecond
	s, _ := start(t, opt)
	ready(t, s)
	proxy.Stall()
	publishtest.Eventually(t, "the loss said", func() bool { return log.times("broker-down") == 1 })
}

// Mosquitto acknowledges what its access list denies, and drops it.
func TestCanaryFindsAccessListThatDrops(t *testing.T) {
	acl := filepath.Join(t.TempDir(), "acl")
	if err := os.WriteFile(acl, []byte("topic read #\ntopic write "+topic("+", "presence")+"\ntopic write "+topic("+", "state")+
		"\ntopic write "+topic("+", "about")+"\ntopic readwrite publishtest-probe/#\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	b := publishtest.Mosquitto(t, "acl_file "+acl,
		"max_queued_messages 1000") // with no bound this broker hangs up on what it denies instead
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "pressure")})
	log := new(said)
	opt := options(b.Addr, log)
	opt.CanaryWithin = 300 * time.Millisecond
	s, _ := start(t, opt)
	ready(t, s)
	if err := s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 10), false)); err != nil {
		t.Fatalf("Deliver: %v; the broker of this test is known to acknowledge what it denies", err)
	}
	publishtest.Eventually(t, "said", func() bool { return log.times("broker-drops") == 1 })
	if n := len(sub.Messages()); n != 0 {
		t.Errorf("got %d messages at the subscriber, want 0: else this test shows nothing", n)
	}
}

// A broker that stops and starts again, with two windows under way.
func TestBrokerKilledMidWindow(t *testing.T) {
	b := publishtest.Mosquitto(t)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic("+", "pressure"), topic("+", "backlog")})
	opt := options(b.Addr, new(said))
	opt.WriteWithin = 500 * time.Millisecond
	s, stop := start(t, opt)
	journal := publishtest.NewRows()
	_, finish := startOutbox(t, s, journal)
	for i := uint64(0); i < 3; i++ {
		from := len(sub.Messages())
		journal.Add(publishtest.Series("r1", room, 1000*i+1, 1000*i+1000)...)
		publishtest.Eventually(t, "messages", func() bool { return len(sub.Messages()) > from })
		b.Stop() // it keeps what it has acknowledged
		b.Start()
	}
	finish()
	stop()
	waitRows(t, sub, 3000)
}
