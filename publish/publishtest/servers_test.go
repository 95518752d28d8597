package publishtest_test

import (
	"net"
	"os/exec"
	"slices"
	"testing"

	"go.uber.org/goleak"

	"manobridge/publish/publishtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// The subscriber loses nothing acknowledged when the broker is stopped and started, nor when its path is cut.
func TestSubscriberOutlivesTheBroker(t *testing.T) {
	broker := publishtest.Mosquitto(t)
	proxy := publishtest.NewProxy(t, broker.Addr)
	s := publishtest.Subscribe(t, proxy.Addr, []string{"lab/#"})
	send := func(payload string) {
		t.Helper()
		host, port, _ := net.SplitHostPort(broker.Addr)
		out, err := exec.Command(publishtest.Binary(t, "mosquitto_pub"), "-h", host, "-p", port, "-q", "1",
			"-t", "lab/a b/pressure", "-m", payload).CombinedOutput()
		if err != nil {
			t.Fatalf("publish: %v: %s", err, out)
		}
	}
	send("1")
	s.WaitCount(t, 1)
	proxy.Refuse()
	send("2")
	proxy.Pass()
	s.WaitCount(t, 2)
	broker.Stop()
	broker.Start()
	send("3")
	// At quality of service 1 the broker may send again what the cut left unacknowledged: repeats are taken out.
	distinct := func(list []publishtest.Message) []publishtest.Message {
		return slices.CompactFunc(slices.Clone(list), func(a, b publishtest.Message) bool { return string(a.Payload) == string(b.Payload) })
	}
	got := distinct(s.Wait(t, "three messages", func(list []publishtest.Message) bool { return len(distinct(list)) >= 3 }))
	for i, want := range []string{"1", "2", "3"} {
		if string(got[i].Payload) != want || got[i].Topic != "lab/a b/pressure" || got[i].QoS != 1 {
			t.Errorf("message %d: got %q on %q at QoS %d, want %q on lab/a b/pressure at 1", i, got[i].Payload, got[i].Topic, got[i].QoS, want)
		}
	}
}
