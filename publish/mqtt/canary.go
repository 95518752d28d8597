package mqtt

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"manobridge/publish"
)

// canary tells a broker that hands messages on from one that acknowledges and drops them: the bridge subscribes to a
// topic of its own and sends itself a number. It belongs to one connection.
type canary struct {
	s     *Sink
	topic string
	n     uint64
	back  chan uint64
	next  *time.Timer // when to send
	limit *time.Timer // when the one sent must be back
}

type canaryMessage struct {
	Bridge string    `json:"bridge"`
	Run    string    `json:"run"`
	N      uint64    `json:"n"`
	Time   time.Time `json:"time"`
	Schema int       `json:"schema"`
	// Pad makes it as large as the largest result: a broker may acknowledge and drop what is over its limit.
	Pad string `json:"pad,omitempty"`
}

func newCanary(s *Sink) *canary {
	c := &canary{s: s, topic: s.topics.of(s.opt.Bridge, "canary"), back: make(chan uint64, 1),
		next: time.NewTimer(time.Hour), limit: time.NewTimer(time.Hour)}
	c.stop()
	return c
}

func (c *canary) stop() {
	c.next.Stop()
	c.limit.Stop()
}

// start subscribes. A broker may deny that, by its answer or by closing the connection; then nothing can be checked.
func (c *canary) start(ctx context.Context, l *link) {
	if c.s.news.blind {
		return
	}
	token := l.client.Subscribe(c.topic, 1, func(_ paho.Client, m paho.Message) {
		var got canaryMessage
		if json.Unmarshal(m.Payload(), &got) != nil || got.Run != c.s.opt.Run {
			return
		}
		select {
		case c.back <- got.N:
		default:
		}
	})
	err := l.await(ctx, token)
	switch sub, ok := token.(*paho.SubscribeToken); {
	case ctx.Err() != nil:
	case errors.Is(err, errNoAck):
		c.s.news.denied() // it does not even answer
	case err != nil:
		byPeer, _ := l.verdict()
		c.s.news.unsubscribed(byPeer)
	case ok && sub.Result()[c.topic] == 0x80: // failure; source: MQTT 3.1.1, 3.9.3
		c.s.news.denied()
	default:
		c.s.news.subscribed()
		c.next.Reset(0)
	}
}

// sends gives the next canary. The one after it goes CanaryEvery after this one is back or missed.
func (c *canary) sends() []*post {
	c.n++
	c.limit.Reset(c.s.opt.CanaryWithin)
	m := canaryMessage{c.s.opt.Bridge, c.s.opt.Run, c.n, c.s.opt.Now().UTC(), publish.Schema, ""}
	payload, err := json.Marshal(m)
	if short := int(c.s.largest.Load()) - len(payload); err == nil && short > 0 {
		m.Pad = strings.Repeat(".", short)
		payload, err = json.Marshal(m)
	}
	if err != nil {
		return nil // plain fields: cannot be
	}
	return []*post{newPost(c.topic, payload, false)}
}

func (c *canary) came(n uint64) {
	if n == c.n {
		c.settled(true)
	}
}

func (c *canary) missed() { c.settled(false) }

func (c *canary) settled(back bool) {
	c.limit.Stop()
	c.next.Reset(c.s.opt.CanaryEvery)
	c.s.news.canary(back)
}
