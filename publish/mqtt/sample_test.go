package mqtt_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"manobridge/publish/publishtest"
)

// The state of an averaged instrument is that of its averages: a refused sample changes nothing of it, and samples keep it
// vouched for through a window longer than it is valid.
func TestSamplesDoNotMoveTheState(t *testing.T) {
	b := publishtest.Mosquitto(t)
	opt := options(b.Addr, new(said))
	opt.StateEvery, opt.ValidFor = 10*time.Millisecond, time.Minute
	var mu sync.Mutex
	now := time.Now()
	opt.Now = func() time.Time { mu.Lock(); defer mu.Unlock(); return now }
	s, _ := start(t, opt)
	sub := publishtest.Subscribe(t, b.Addr, []string{topic(room, "state")})
	good := publishtest.Result("r1", room, 1)
	s.Observe(&good)
	publishtest.Eventually(t, "the good state", func() bool { return has(sub.Messages(), topic(room, "state"), `"status":"good"`) })
	for range 3 {
		mu.Lock()
		now = now.Add(45 * time.Second)
		mu.Unlock()
		sample := publishtest.Refused("r1", room, 2)
		sample.Sample = true
		s.Observe(&sample)
	}
	from := len(sub.Messages())
	publishtest.Eventually(t, "the state repeated", func() bool { return len(sub.Messages()) > from+5 })
	began := false
	for _, m := range sub.Messages() {
		good := strings.Contains(string(m.Payload), `"status":"good"`)
		if began = began || good; began && !good {
			t.Errorf("got %s, want the state of the last average", m.Payload)
		}
	}
}
