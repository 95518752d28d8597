package mqtt_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
	"go.uber.org/goleak"

	"manobridge/convert"
	"manobridge/publish"
	"manobridge/publish/mqtt"
	"manobridge/publish/publishtest"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var (
	_ publish.Sink    = (*mqtt.Sink)(nil)
	_ publish.Readier = (*mqtt.Sink)(nil)
)

const (
	site   = "cleanroom-suite"
	bridge = "bridge-1"
	room   = "room-3-corridor"
	filter = "hepa-bank-2"
)

// said collects what a sink logs.
type said struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.Write(p)
}

func (s *said) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.String()
}

// times tells how often a code was logged.
func (s *said) times(code string) int { return strings.Count(s.text(), "code="+code+" ") }

func options(addr string, log *said) mqtt.Options {
	return mqtt.Options{
		URL: "tcp://" + addr, ClientID: "manobridge-" + site + "-" + bridge,
		Prefix: "manobridge", Site: site, Bridge: bridge, Run: "r1",
		Instruments: []string{room, filter},
		About: []publish.About{{Instrument: room, Bridge: bridge, Kind: "inclined", Liquid: "water",
			Quantity: convert.DifferentialValue, RangePa: [2]float64{-10, 60}, Config: "5f1c"}},
		BackoffMin: 5 * time.Millisecond, BackoffMax: 50 * time.Millisecond,
		Logger: slog.New(slog.NewTextHandler(log, nil)),
	}
}

// start runs a sink until the test ends or stop is called.
func start(t *testing.T, opt mqtt.Options) (s *mqtt.Sink, stop func()) {
	t.Helper()
	s, err := mqtt.New(opt)
	if err != nil {
		t.Fatalf("New: %v", err)
	}
	ran := make(chan error, 1)
	go func() { ran <- s.Run(context.Background()) }()
	stop = sync.OnceFunc(func() {
		_, again := s.Close(), <-ran
		if again != nil {
			t.Errorf("Run: got %v, want nil", again)
		}
	})
	t.Cleanup(stop)
	return s, stop
}

func ready(t *testing.T, s *mqtt.Sink) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), publishtest.Patience)
	defer cancel()
	if err := s.Ready(ctx); err != nil {
		t.Fatalf("Ready: got %v, want a connection", err)
	}
}

func rows(results []convert.Result, late bool) []publish.Row {
	out := make([]publish.Row, len(results))
	for i, r := range results {
		out[i] = publish.Row{ID: int64(i + 1), Result: r, Late: late}
	}
	return out
}

func deliverError(t *testing.T, err error) *publish.DeliverError {
	t.Helper()
	var e *publish.DeliverError
	if !errors.As(err, &e) {
		t.Fatalf("Deliver: got %v, want a *DeliverError", err)
	}
	return e
}

func topic(name, leaf string) string { return "manobridge/" + site + "/" + name + "/" + leaf }

// last gives the newest message of a topic.
func last(messages []publishtest.Message, topic string) (publishtest.Message, bool) {
	for i := len(messages) - 1; i >= 0; i-- {
		if messages[i].Topic == topic {
			return messages[i], true
		}
	}
	return publishtest.Message{}, false
}

// has tells whether the newest message of a topic holds text.
func has(messages []publishtest.Message, topic, text string) bool {
	m, ok := last(messages, topic)
	return ok && strings.Contains(string(m.Payload), text)
}

// answer is what the fake broker does with a message.
type answer uint8

const (
	ack answer = iota
	echo
	keepSilent
	hangUp
)

// fakeBroker does what no real one does on command: it refuses to acknowledge, drops what it acknowledged, hangs up.
type fakeBroker struct {
	addr      string
	publish   func(topic string) answer // called one at a time
	subscribe byte                      // return code of a subscription

	mu sync.Mutex
}

func newFake(t *testing.T, publish func(topic string) answer) *fakeBroker {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &fakeBroker{addr: l.Addr().String(), publish: publish, subscribe: 1}
	var wg sync.WaitGroup
	var conns sync.Map
	wg.Go(func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			conns.Store(c, nil)
			wg.Go(func() { b.serve(c) })
		}
	})
	t.Cleanup(func() {
		_ = l.Close()
		conns.Range(func(c, _ any) bool { _ = c.(net.Conn).Close(); return true })
		wg.Wait()
	})
	return b
}

func (b *fakeBroker) serve(c net.Conn) {
	defer func() { _ = c.Close() }()
	for {
		p, err := packets.ReadPacket(c)
		if err != nil {
			return
		}
		var reply packets.ControlPacket
		switch p := p.(type) {
		case *packets.ConnectPacket:
			reply = packets.NewControlPacket(packets.Connack)
		case *packets.PingreqPacket:
			reply = packets.NewControlPacket(packets.Pingresp)
		case *packets.SubscribePacket:
			suback := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
			suback.MessageID, suback.ReturnCodes = p.MessageID, []byte{b.subscribe}
			reply = suback
		case *packets.PublishPacket:
			b.mu.Lock()
			do := b.publish(p.TopicName)
			b.mu.Unlock()
			switch do {
			case hangUp:
				return
			case keepSilent:
				continue
			case echo:
				back := packets.NewControlPacket(packets.Publish).(*packets.PublishPacket)
				back.TopicName, back.Payload = p.TopicName, p.Payload
				if back.Write(c) != nil {
					return
				}
			}
			puback := packets.NewControlPacket(packets.Puback).(*packets.PubackPacket)
			puback.MessageID = p.MessageID
			reply = puback
		default:
			continue
		}
		if reply.Write(c) != nil {
			return
		}
	}
}

// isResult tells results from what else a bridge publishes.
func isResult(topic string) bool {
	return strings.HasSuffix(topic, "/pressure") || strings.HasSuffix(topic, "/backlog")
}

// run names results apart.
func run(i int) string { return fmt.Sprintf("r%d", i) }
