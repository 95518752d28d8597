package mqtt_test

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

func TestSilenceIsNoAcknowledgement(t *testing.T) {
	const taken = 37
	n := 0
	b := newFake(t, func(topic string) answer {
		if isResult(topic) {
			if n++; n > taken {
				return keepSilent
			}
		}
		return ack
	})
	opt := options(b.addr, new(said))
	opt.AckWithin = 100 * time.Millisecond
	s, _ := start(t, opt)
	ready(t, s)
	e := deliverError(t, s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 500), false)))
	if e.Acked != taken || e.Class != publish.Transient || e.Code != "broker-silent" {
		t.Errorf("got %d acknowledged, class %d, %s; want %d, class %d, broker-silent", e.Acked, e.Class, e.Code, taken, publish.Transient)
	}
}

func TestLateRowsDoNotHoldUpLiveOnes(t *testing.T) {
	var late atomic.Int64
	b := newFake(t, func(topic string) answer {
		if strings.HasSuffix(topic, "/backlog") {
			late.Add(1)
			return keepSilent
		}
		return ack
	})
	opt := options(b.addr, new(said))
	opt.AckWithin = publishtest.Patience // the late lane stands still all the time
	opt.LeaveWithin = 100 * time.Millisecond
	s, stop := start(t, opt)
	ready(t, s)
	ended := make(chan error, 1)
	go func() { ended <- s.Deliver(t.Context(), rows(publishtest.Series("r0", room, 1, 500), true)) }()
	publishtest.Eventually(t, "late rows under way", func() bool { return late.Load() == 32 })
	for i := range 5 {
		if err := s.Deliver(t.Context(), rows(publishtest.Series(run(i), room, 1, 500), false)); err != nil {
			t.Fatalf("Deliver live: %v", err)
		}
	}
	if n := late.Load(); n != 32 {
		t.Errorf("got %d late rows under way, want 32: an eighth of the window of 256", n)
	}
	stop()
	if e := deliverError(t, <-ended); e.Acked != 0 {
		t.Errorf("got %d late rows acknowledged, want 0", e.Acked)
	}
}

// A row the broker hangs up on is suspected, where nothing else can be to blame.
func TestHangingUpOnARow(t *testing.T) {
	b := newFake(t, func(topic string) answer {
		if isResult(topic) && strings.Contains(topic, filter) {
			return hangUp
		}
		return ack
	})
	opt := options(b.addr, new(said))
	s, _ := start(t, opt)
	ready(t, s)
	if err := s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 5), false)); err != nil {
		t.Fatalf("Deliver: %v", err)
	}
	poison := rows(publishtest.Series("r1", filter, 1, 1), false)
	e := deliverError(t, s.Deliver(t.Context(), poison))
	if e.Class != publish.Suspect || e.Acked != 0 {
		t.Errorf("got class %d with %d acknowledged, want %d (suspect) with 0: %v", e.Class, e.Acked, publish.Suspect, e)
	}
	ready(t, s)
}

func TestUnfitRow(t *testing.T) {
	b := newFake(t, func(string) answer { return ack })
	s, _ := start(t, options(b.addr, new(said)))
	ready(t, s)
	for _, name := range []string{"room+", "a/b", "#", "", "$SYS", "nul\x00", "tab\t", "bad\xff", strings.Repeat("x", 70000)} {
		batch := rows(publishtest.Series("r1", room, 1, 10), false)
		batch[6].Instrument = name
		e := deliverError(t, s.Deliver(t.Context(), batch))
		if e.Class != publish.Content || e.Acked != 6 {
			t.Errorf("%.20q: got class %d with %d acknowledged, want %d (content) with 6", name, e.Class, e.Acked, publish.Content)
		}
		if len(e.Error()) > 300 {
			t.Errorf("%.20q: got a message of %d bytes, want a line", name, len(e.Error()))
		}
		o := batch[6].Result
		s.Observe(&o) // has no state, and does no harm
	}
	if err := s.Deliver(t.Context(), nil); err != nil {
		t.Errorf("Deliver of nothing: %v", err)
	}
}

func TestCanaryFindsABrokerThatDrops(t *testing.T) {
	var hands atomic.Bool
	b := newFake(t, func(topic string) answer {
		if hands.Load() && strings.HasSuffix(topic, "/canary") {
			return echo
		}
		return ack
	})
	log := new(said)
	opt := options(b.addr, log)
	opt.CanaryEvery, opt.CanaryWithin = 20*time.Millisecond, 20*time.Millisecond
	s, _ := start(t, opt)
	ready(t, s)
	publishtest.Eventually(t, "the loss said", func() bool { return log.times("broker-drops") > 0 })
	hands.Store(true)
	publishtest.Eventually(t, "the recovery said", func() bool { return strings.Contains(log.text(), "code=broker-hands-on") })
}

func TestRealBrokerHandsTheCanaryBack(t *testing.T) {
	b := publishtest.Mosquitto(t)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic(bridge, "canary")})
	log := new(said)
	opt := options(b.Addr, log)
	opt.CanaryEvery = 20 * time.Millisecond
	s, _ := start(t, opt)
	ready(t, s)
	if m := sub.WaitCount(t, 5); m[0].Retained || m[0].QoS != 1 {
		t.Errorf("got a canary retained %t at QoS %d, want not retained at QoS 1", m[0].Retained, m[0].QoS)
	}
}

func TestDeniedSubscriptionIsSaidOnce(t *testing.T) {
	b := newFake(t, func(topic string) answer {
		if strings.HasSuffix(topic, "/canary") {
			t.Error("got a canary, want none: it cannot come back")
		}
		return ack
	})
	b.subscribe = 0x80 // failure; source: MQTT 3.1.1, 3.9.3
	log := new(said)
	s, _ := start(t, options(b.addr, log))
	publishtest.Eventually(t, "said", func() bool { return strings.Contains(log.text(), "code=canary-denied") })
	if err := s.Deliver(t.Context(), rows(publishtest.Series("r1", room, 1, 10), false)); err != nil {
		t.Errorf("Deliver: %v", err)
	}
	if strings.Contains(log.text(), "broker-drops") {
		t.Errorf("got broker-drops logged, want nothing that could not be checked:\n%s", log.text())
	}
}
