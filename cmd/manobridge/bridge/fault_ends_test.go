package bridge_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"manobridge/configs"
	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// A login page stands before the store and answers every write with status 200. That is no acknowledgement: everything waits,
// and is in the store once the page is gone and the bridge was started anew.
func TestLoginPageBeforeTheStore(t *testing.T) {
	ledger := publishtest.NewLedger(t, "series")
	store := publishtest.InfluxDB(t, "pressure")
	var away atomic.Bool
	front := httptest.NewServer(passing(t, store.URL(), func(w http.ResponseWriter, r *http.Request) bool {
		if away.Load() {
			return false
		}
		w.Header().Set("Content-Type", "text/html")
		_, _ = fmt.Fprint(w, "<html>sign in")
		return true
	}))
	t.Cleanup(front.Close)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	c := config(t, line.Path, path, fmt.Sprintf("publish: {series: {url: %q, bucket: pressure}}", front.URL))
	c.Run.Drain = configs.Duration(100 * time.Millisecond)
	x := start(t, c)
	opened(t, x, line)
	line.Send(strings.Repeat("02,75.30,21.0\n03,80.10,21.5\n", 20))
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == 40 })
	eventually(t, "the page said", func() bool { return strings.Contains(x.log.String(), "text/html") })
	holdWaiting(t, x, 40)
	away.Store(true)
	x.end() // a person who set it right need not wait for the next try, which comes within minutes
	x = start(t, c)
	eventually(t, "everything delivered", settled(x))
	x.end()
	holdAll(t, ledger, path, far{stored: publishtest.ReadInfluxDB(t, store, "pressure", "manometer"), resolution: 1})
}

// The acknowledgements of the broker are withheld by the way between. What is under way is given up after ten seconds and goes
// again, and nothing of it is lost or late on a live topic.
func TestAcknowledgementsWithheld(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt")
	broker := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, broker.Addr)
	subscriber := publishtest.Subscribe(t, broker.Addr, everything)
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf("publish: {mqtt: {url: \"tcp://%s\", live_within: 1s}}", proxy.Addr)))
	opened(t, x, line)
	sent, halt := flow(t, line, 10*time.Millisecond)
	eventually(t, "the first results", func() bool { return subscriber.Count() > 20 })
	proxy.Withhold()
	eventually(t, "the loss said", func() bool { return strings.Contains(x.log.String(), "code=broker-down ") })
	proxy.Pass()
	n := subscriber.Count()
	eventually(t, "results again", func() bool { return subscriber.Count() > n+20 })
	halt()
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	eventually(t, "everything delivered", settled(x))
	x.end()
	holdAll(t, ledger, path, far{subscriber: subscriber, within: time.Second})
	holdBoth(t, subscriber)
}

// Broker and store are killed at the same moment and come back one after the other.
func TestBrokerAndStoreKilledTogether(t *testing.T) {
	ledger := publishtest.NewLedger(t, "mqtt", "series")
	broker, store := publishtest.Mosquitto(t), publishtest.InfluxDB(t, "pressure")
	proxy := publishtest.NewProxy(t, broker.Addr)
	subscriber := publishtest.Subscribe(t, broker.Addr, everything)
	broker.Stop() // it saves the session of the subscriber, so that a kill does not lose that
	broker.Start()
	line := ingesttest.NewLine(t)
	path := journalPath(t)
	x := start(t, config(t, line.Path, path, fmt.Sprintf(`publish:
  mqtt: {url: "tcp://%s", live_within: 1s}
  series: {url: %q, bucket: pressure}`, proxy.Addr, store.URL())))
	opened(t, x, line)
	sent, halt := flow(t, line, 4*time.Millisecond)
	eventually(t, "results", func() bool { return subscriber.Count() > 50 })
	// What a broker has acknowledged and not handed on is lost with it; so it is let hand on first.
	proxy.Refuse()
	eventually(t, "the loss said", func() bool { return strings.Contains(x.log.String(), "code=sink-down sink=mqtt") })
	eventually(t, "what is acknowledged handed on", func() bool {
		for _, d := range x.b.Deliveries() {
			if d.Sink == "mqtt" {
				return int64(subscriber.Count()) >= d.Delivered
			}
		}
		return false
	})
	broker.Kill()
	store.Kill()
	before := sent.Load()
	eventually(t, "frames", func() bool { return sent.Load() > before+600 }) // more than live_within
	broker.Start()
	proxy.Pass()
	store.Start()
	halt()
	eventually(t, "every frame", func() bool { return x.b.Counts().Good == uint64(sent.Load()) })
	eventually(t, "everything delivered", settled(x))
	x.end()
	holdAll(t, ledger, path, far{subscriber: subscriber, within: time.Second,
		stored: publishtest.ReadInfluxDB(t, store, "pressure", "manometer"), resolution: 1})
	holdBoth(t, subscriber)
}
