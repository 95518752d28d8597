package speed

import (
	"bufio"
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"manobridge/ingest/ingesttest"
	"manobridge/publish/publishtest"
)

// stopwatch holds when readings were sent, and when they came, counted from 0.
type stopwatch struct {
	mu         sync.Mutex
	sent, came []time.Time
}

func (s *stopwatch) start() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sent, s.came = append(s.sent, time.Now()), append(s.came, time.Time{})
}

// arrived notes the first arrival of reading k.
func (s *stopwatch) arrived(k int) {
	at := time.Now()
	s.mu.Lock()
	defer s.mu.Unlock()
	if k >= 0 && k < len(s.came) && s.came[k].IsZero() {
		s.came[k] = at
	}
}

func (s *stopwatch) missing() (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, at := range s.came {
		if at.IsZero() {
			n++
		}
	}
	return n
}

// quantiles gives the time at each share of all readings, in ms. Those before the skip-th are left out.
func (s *stopwatch) quantiles(skip int, shares ...float64) (ms []float64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []time.Duration
	for k := skip; k < len(s.sent); k++ {
		all = append(all, s.came[k].Sub(s.sent[k]))
	}
	slices.Sort(all)
	for _, q := range shares {
		ms = append(ms, float64(all[min(len(all)-1, int(q*float64(len(all))))])/1e6)
	}
	return ms
}

// subscribe calls f with every message of the topic until the benchmark ends.
func subscribe(b *testing.B, addr, topic string, f func(topic string, payload []byte)) {
	c := dialled(b, addr, "listener-"+strconv.FormatInt(time.Now().UnixNano(), 36))
	token := c.Subscribe(topic, 1, func(_ paho.Client, m paho.Message) { f(m.Topic(), m.Payload()) })
	if token.Wait(); token.Error() != nil {
		b.Fatal(token.Error())
	}
	b.Cleanup(func() { c.Disconnect(250) })
}

// seq reads the number of a reading out of a message, counted from 0.
func seq(payload []byte) int {
	_, rest, _ := bytes.Cut(payload, []byte(`"seq":`))
	digits, _, _ := bytes.Cut(rest, []byte(","))
	n, err := strconv.Atoi(string(digits))
	if err != nil {
		return -1
	}
	return n - 1
}

// trickle writes n readings of the instrument at 100 a second, the time just before each.
func trickle(b *testing.B, l *ingesttest.Line, s *stopwatch, n int, halt *atomic.Bool) {
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for k := range n {
		<-tick.C
		if halt != nil && halt.Load() {
			return
		}
		line := frame(nil, 0, k)
		s.start()
		if _, err := l.Master().Write(line); err != nil {
			b.Errorf("write frames: %v", err)
			return
		}
	}
}

// barePath reads lines from the port and publishes each as it is: nothing is between.
func barePath(b *testing.B, l *ingesttest.Line, addr string) {
	port, err := os.OpenFile(l.Path, os.O_RDWR, 0)
	if err != nil {
		b.Fatal(err)
	}
	c := dialled(b, addr, "bare-path")
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		k := 0
		for lines := bufio.NewScanner(port); lines.Scan(); k++ {
			c.Publish("bare-path", 1, false, append([]byte(`{"seq":`+strconv.Itoa(k+1)+`,"raw":"`), lines.Bytes()...))
		}
	}()
	b.Cleanup(func() {
		l.Unplug()
		<-ended
		_ = port.Close()
		c.Disconnect(250)
	})
}

// What the bridge adds, journal strict and both sinks on, between the byte on the line and the message at a subscriber, at 100
// readings a second.
func BenchmarkLatency(b *testing.B) {
	const n, skip = 1100, 100
	for b.Loop() {
		broker, store := publishtest.Mosquitto(b), publishtest.VictoriaMetrics(b)
		var bare, through stopwatch
		subscribe(b, broker.Addr, "bare-path", func(_ string, p []byte) { bare.arrived(seq(p)) })
		subscribe(b, broker.Addr, "manobridge/test-hall/"+name(0)+"/pressure", func(_ string, p []byte) { through.arrived(seq(p)) })
		line := ingesttest.NewLine(b)
		barePath(b, line, broker.Addr)
		trickle(b, line, &bare, n, nil)
		wait(b, "the messages of the bare path", func() bool { return bare.missing() == 0 })

		h := hall{ports: 1, instruments: 1, broker: broker.Addr, store: store.Addr, journal: filepath.Join(b.TempDir(), "journal.db")}
		lines := h.plug(b)
		x := h.run(b, lines)
		lineEnd(b, lines[0])
		trickle(b, lines[0], &through, n, nil)
		wait(b, "the messages of the bridge", func() bool { return through.missing() == 0 })
		x.end()
		with, without := through.quantiles(skip, 0.5, 0.99), bare.quantiles(skip, 0.5, 0.99)
		b.ReportMetric(with[0]-without[0], "added-p50-ms")
		b.ReportMetric(with[1]-without[1], "added-p99-ms")
		b.ReportMetric(with[1], "bridge-p99-ms")
		b.ReportMetric(without[0], "bare-p50-ms")
		b.ReportMetric(without[1], "bare-p99-ms")
	}
}
