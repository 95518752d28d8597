package mqtt_test

import (
	"encoding/json"
	"fmt"
	"net"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/publish"
	"manobridge/publish/publishtest"
)

func transition(n int) publish.AlarmEvent {
	return publish.AlarmEvent{AlarmOf: publish.AlarmOf{Limit: "room-3-pressure", Bridge: bridge, Run: "r1", Priority: "high", Class: "cleanroom"},
		ID: fmt.Sprintf("r1/room-3-pressure/%d", n), Sequence: uint64(n), Alarm: "limit", Time: time.Date(2026, 3, 1, 8, 0, n, 0, time.UTC),
		State: "unacknowledged", Previous: "normal", Cause: "condition"}
}

// A subscriber of other people's making that comes late sees the word on a limit at once, and every transition that
// happened while the broker was away reaches one that listens, in order and once.
func TestBoardReachesALateSubscriber(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	log := &said{}
	opt := options(broker.Addr, log)
	var mu sync.Mutex
	var sent []string
	opt.OnEventSent = func(id string) {
		mu.Lock()
		defer mu.Unlock()
		sent = append(sent, id)
	}
	s, stop := start(t, opt)
	s.AlarmState("room-3-pressure", []byte(`{"state":"normal"}`))
	s.AlarmState("room-3-pressure", []byte(`{"state":"unacknowledged"}`))
	publishtest.Eventually(t, "the connection", func() bool { return log.times("broker-up") == 1 })

	broker.Kill()
	publishtest.Eventually(t, "the loss", func() bool { return log.times("broker-down") == 1 })
	const many = 150 // more than goes at once
	for i := 1; i <= many; i++ {
		s.AlarmEvent(transition(i))
	}
	broker.Start()
	ears := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/" + site + "/room-3-pressure/#"})
	publishtest.Eventually(t, "the acknowledgements", func() bool {
		mu.Lock()
		defer mu.Unlock()
		return len(sent) == many
	})
	late := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/" + site + "/room-3-pressure/alarm"})
	got := late.WaitCount(t, 1)
	if !got[0].Retained || string(got[0].Payload) != `{"state":"unacknowledged"}` {
		t.Errorf("got %q, retained %v, want the latest word, retained", got[0].Payload, got[0].Retained)
	}
	next := uint64(0)
	for _, m := range ears.Messages() { // which of them went out before it listened is the broker's affair: none may come twice or out of turn
		if !strings.HasSuffix(m.Topic, "/event") {
			continue
		}
		var e struct {
			Sequence   uint64
			Time, Sent time.Time
		}
		if err := json.Unmarshal(m.Payload, &e); err != nil {
			t.Fatal(err)
		}
		if e.Sequence <= next {
			t.Errorf("got event %d after %d", e.Sequence, next)
		}
		if next = e.Sequence; !e.Sent.After(e.Time) || m.Retained {
			t.Errorf("event %d: sent %v, retained %v, want it sent later than it happened and not retained", e.Sequence, e.Sent, m.Retained)
		}
	}
	for i, id := range sent {
		if want := transition(i + 1).ID; id != want {
			t.Fatalf("got %s acknowledged as number %d, want %s", id, i+1, want)
		}
	}
	stop()
}

// Requests written by mosquitto_pub, answered on the limit's own topic.
func TestRequestsComeIn(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	log := &said{}
	opt := options(broker.Addr, log)
	type asked struct{ limit, user, message string }
	requests := make(chan asked, 8)
	opt.OnRequest = func(limit, user string, message []byte) { requests <- asked{limit, user, string(message)} }
	s, stop := start(t, opt)
	publishtest.Eventually(t, "the connection", func() bool { return log.times("broker-up") == 1 })
	ears := publishtest.Subscribe(t, broker.Addr, []string{"manobridge/" + site + "/+/reply"})
	root := "manobridge/" + site + "/room-3-pressure/request/"
	said := func(topic, message string, more ...string) {
		t.Helper()
		host, port, err := net.SplitHostPort(broker.Addr)
		if err != nil {
			t.Fatal(err)
		}
		args := append([]string{"-h", host, "-p", port, "-q", "1", "-t", topic, "-m", message}, more...)
		if out, err := exec.Command(publishtest.Binary(t, "mosquitto_pub"), args...).CombinedOutput(); err != nil {
			t.Fatalf("mosquitto_pub: %v\n%s", err, out)
		}
	}
	// The subscription may not stand yet when the connection does: what is retained is handed over when it does, and is not done.
	said(root+"anna", `{"retained":true}`, "-r")
	publishtest.Eventually(t, "a request", func() bool {
		said(root+"anna", `{"id":"1"}`)
		select {
		case got := <-requests:
			if got != (asked{"room-3-pressure", "anna", `{"id":"1"}`}) && got.message != `{"retained":true}` {
				t.Errorf("got %+v, want what anna asked", got)
			}
			return got.message == `{"id":"1"}`
		case <-time.After(100 * time.Millisecond):
			return false
		}
	})
	s.AlarmReply(publish.AlarmReply{ID: "1", Limit: "room-3-pressure", User: "anna", Done: true, Code: "done"})
	got := ears.WaitCount(t, 1)
	if got[0].Topic != "manobridge/"+site+"/room-3-pressure/reply" || got[0].Retained || !strings.Contains(string(got[0].Payload), `"done":true`) {
		t.Errorf("got %s %q, retained %v, want the answer, not retained", got[0].Topic, got[0].Payload, got[0].Retained)
	}
	stop()
}
