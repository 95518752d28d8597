package publishtest

import (
	"bufio"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"io"
	"net"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"
)

// Message is what a subscriber got.
type Message struct {
	Topic    string
	Payload  []byte
	QoS      byte
	Retained bool // it was stored by the broker before the subscription
	At       time.Time
}

// Subscriber is a subscriber written by other people than the sink's client library: the one that comes with the
// broker. Its session survives an outage of the broker, so that it misses nothing that was acknowledged.
type Subscriber struct {
	mu       sync.Mutex
	messages []Message
	ready    bool
}

const probe = "publishtest-probe"

// Subscribe subscribes at quality of service 1 and returns once the broker has taken the subscription. extra are further
// arguments of mosquitto_sub and mosquitto_pub, such as -u and -P.
func Subscribe(t testing.TB, addr string, filters []string, extra ...string) *Subscriber {
	t.Helper()
	path, publisher := Binary(t, "mosquitto_sub"), Binary(t, "mosquitto_pub")
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatalf("address of the broker: %v", err)
	}
	common := append([]string{"-h", host, "-p", port, "-q", "1"}, extra...)
	// A retained message answers the last of the filters, so it tells that all of them stand.
	id := "publishtest-" + rand.Text()
	ask := exec.Command(publisher, append(common, "-r", "-t", probe+"/"+id, "-m", "ready")...)
	if out, err := ask.CombinedOutput(); err != nil {
		t.Fatalf("publish through %s: %v: %s", addr, err, out)
	}
	args := append(common, "-i", id, "-c", "-k", "5", "-F", "%r %q %x %t")
	for _, f := range append(filters, probe+"/"+id) {
		args = append(args, "-t", f)
	}
	cmd := exec.Command(path, args...)
	var complaints lockedBuffer
	cmd.Stderr = &complaints
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatalf("start the subscriber: %v", err)
	}
	s := &Subscriber{}
	done := make(chan error, 1)
	go func() {
		done <- s.read(out)
		_ = cmd.Wait() // it is killed below
		close(done)
	}()
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		if err := <-done; err != nil {
			t.Errorf("read what the subscriber got: %v", err)
		}
		<-done
		if t.Failed() {
			t.Logf("the subscriber got %d messages; it said: %s", len(s.Messages()), complaints.tail(2000))
		}
	})
	Eventually(t, "the broker takes the subscription", func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		return s.ready
	})
	return s
}

func (s *Subscriber) read(out io.Reader) error {
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return nil // killed
		}
		m, err := parseMessage(strings.TrimSuffix(line, "\n"))
		if err != nil {
			return err
		}
		s.mu.Lock()
		if strings.HasPrefix(m.Topic, probe) {
			s.ready = true
		} else {
			s.messages = append(s.messages, m)
		}
		s.mu.Unlock()
	}
}

func parseMessage(line string) (Message, error) {
	parts := strings.SplitN(line, " ", 4)
	if len(parts) != 4 || len(parts[1]) != 1 {
		return Message{}, fmt.Errorf("line %q of the subscriber", line)
	}
	payload, err := hex.DecodeString(parts[2])
	return Message{Topic: parts[3], Payload: payload, QoS: parts[1][0] - '0', Retained: parts[0] == "1",
		At: time.Now()}, err
}

// Messages gives what has come so far, in its order.
func (s *Subscriber) Messages() []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]Message(nil), s.messages...)
}

// Count tells how many have come so far.
func (s *Subscriber) Count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.messages)
}

// Wait returns what has come as soon as enough says so.
func (s *Subscriber) Wait(t testing.TB, what string, enough func([]Message) bool) []Message {
	t.Helper()
	var got []Message
	Eventually(t, what, func() bool {
		got = s.Messages()
		return enough(got)
	})
	return got
}

// WaitCount returns what has come as soon as there are n messages.
func (s *Subscriber) WaitCount(t testing.TB, n int) []Message {
	t.Helper()
	return s.Wait(t, fmt.Sprintf("%d messages at the subscriber", n), func(m []Message) bool { return len(m) >= n })
}
