package mqtt_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

// Mosquitto 2.0 drops what is over its message_size_limit, ends the connection, and sometimes acknowledges it before. That it ends it again and
// again is said, with the limit among what to check; what was acknowledged is beyond the bridge.
func TestMessageSizeLimit(t *testing.T) {
	row := publish.Row{Result: publishtest.Result("r1", room, 1)}
	m := publish.NewMessage(site, &row.Result)
	size := len(m.Append(nil))
	for _, c := range []struct {
		limit int
		drops bool
	}{{size - 1, true}, {size, false}} {
		broker := publishtest.Mosquitto(t, fmt.Sprintf("message_size_limit %d", c.limit))
		log := &said{}
		opt := options(broker.Addr, log)
		opt.CanaryEvery, opt.CanaryWithin = 50*time.Millisecond, 2*time.Second
		s, stop := start(t, opt)
		publishtest.Eventually(t, "the connection", func() bool { return log.times("broker-up") == 1 })
		ears := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/" + site + "/+/pressure"})
		deliver := func() error {
			ctx, enough := context.WithTimeout(context.Background(), time.Second)
			defer enough()
			return s.Deliver(ctx, []publish.Row{row})
		}
		if c.drops {
			publishtest.Eventually(t, "the loss being said", func() bool {
				_ = deliver() // acknowledged or not, as it happens: the broker does both at once
				return log.times("client-id-taken")+log.times("broker-drops") > 0
			})
		} else if err := deliver(); err != nil {
			t.Errorf("limit %d, size %d: %v", c.limit, size, err)
		} else {
			ears.WaitCount(t, 1)
		}
		stop()
		if got := len(ears.Messages()); c.drops != (got == 0) {
			t.Errorf("limit %d, size %d: got %d messages", c.limit, size, got)
		}
	}
}

// A result that is over max_packet_size is not acknowledged: the broker ends the connection. It is put aside by name after some
// tries, and the others go on.
func TestMaxPacketSizePutsAside(t *testing.T) {
	broker := publishtest.Mosquitto(t, "max_packet_size 400")
	log := &said{}
	s, stop := start(t, options(broker.Addr, log))
	rows := publishtest.NewRows()
	rows.Add(publishtest.Refused("r1", room, 1), publishtest.Result("r1", room, 2), publishtest.Refused("r1", room, 3))
	o, err := publish.NewOutbox(publish.Options{Rows: rows, Sink: s, Run: "r1", SinceStart: func() time.Duration { return 0 },
		BackoffMin: 5 * time.Millisecond, BackoffMax: 20 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	ears := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/" + site + "/+/+"})
	ctx, end := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- o.Run(ctx) }()
	publishtest.Eventually(t, "the one too large put aside", func() bool { return rows.Quarantined("mqtt")[2] != "" })
	publishtest.Eventually(t, "the others delivered", func() bool { return o.Stats().Lag == 0 })
	end()
	if err := <-done; err != nil {
		t.Error(err)
	}
	stop()
	if put := rows.Quarantined("mqtt"); len(put) != 1 {
		t.Errorf("got %v put aside, want the one that is too large", put)
	}
	seen := map[string]bool{}
	for _, m := range ears.Messages() {
		seen[string(m.Payload)] = true
	}
	if len(seen) < 2 {
		t.Errorf("got %d messages, want both that fit", len(seen))
	}
}
