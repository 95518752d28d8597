package mqtt

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	paho "github.com/eclipse/paho.mqtt.golang"

	"manobridge/publish"
)

// board is the word on limits: retained states, transitions to be delivered at least once, answers to requests.
type board struct {
	mu     sync.Mutex
	states map[string][]byte // by topic
	dirty  map[string]bool
	names  []string // topics of states, in the order they came
	queue  []notice
	lost   uint64 // given up since the last word on it
}

// notice is one message that is not retained.
type notice struct {
	topic string
	id    string // of an event; empty for an answer
	event *publish.AlarmEvent
	plain []byte
}

const (
	// mostNotices bounds what waits for a broker that is away. Past it the oldest are given up and counted; the journal
	// has them all.
	mostNotices = 10_000
	// noticesAtOnce is how many go before states have their turn again.
	noticesAtOnce = 64
)

func newBoard() *board { return &board{states: map[string][]byte{}, dirty: map[string]bool{}} }

// AlarmState replaces the retained word on a limit. It does not block.
func (s *Sink) AlarmState(limit string, message []byte) {
	s.retain(s.topics.of(limit, "alarm"), message)
}

// Acts replaces the retained anchor of the record of acts. It does not block.
func (s *Sink) Acts(message []byte) { s.retain(s.topics.of(s.opt.Bridge, "acts"), message) }

// BridgeAlarm replaces the retained word on what is wrong with the bridge itself. It does not block.
func (s *Sink) BridgeAlarm(message []byte) { s.retain(s.topics.of(s.opt.Bridge, "alarm"), message) }

func (s *Sink) retain(topic string, message []byte) {
	b := s.board
	b.mu.Lock()
	if _, known := b.states[topic]; !known {
		b.names = append(b.names, topic)
	}
	b.states[topic], b.dirty[topic] = message, true
	b.mu.Unlock()
	s.nudge()
}

// AlarmEvent hands over a transition. OnEventSent of the options tells when the broker has acknowledged it. It does not
// block.
func (s *Sink) AlarmEvent(e publish.AlarmEvent) {
	s.board.add(notice{topic: s.topics.of(e.Limit, "event"), id: e.ID, event: &e})
	s.nudge()
}

// AlarmReply hands over the answer to a request. It does not block.
func (s *Sink) AlarmReply(r publish.AlarmReply) {
	s.board.add(notice{topic: s.topics.of(r.Limit, "reply"), plain: r.JSON()})
	s.nudge()
}

func (s *Sink) nudge() {
	select {
	case s.changed <- struct{}{}:
	default:
	}
}

func (b *board) add(n notice) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if n.id != "" && slices.ContainsFunc(b.queue, func(q notice) bool { return q.id == n.id }) {
		return // told again after a change of the configuration
	}
	if len(b.queue) >= mostNotices {
		b.queue = b.queue[1:]
		b.lost++
	}
	b.queue = append(b.queue, n)
}

// boardPosts gives the states to publish, those that changed or all.
func (s *Sink) boardPosts(all bool) []*post {
	b := s.board
	b.mu.Lock()
	defer b.mu.Unlock()
	var posts []*post
	for _, name := range b.names {
		if all || b.dirty[name] {
			posts = append(posts, newPost(name, b.states[name], true))
			delete(b.dirty, name)
		}
	}
	return posts
}

// sendNotices sends what waits, in order, some at a time, and takes off the queue what was acknowledged.
func (s *Sink) sendNotices(ctx context.Context, l *link) {
	b := s.board
	b.mu.Lock()
	n := min(len(b.queue), noticesAtOnce)
	batch := append([]notice(nil), b.queue[:n]...)
	lost := b.lost
	b.lost = 0
	b.mu.Unlock()
	if lost > 0 {
		s.opt.Logger.Warn("transitions of alarms were given up because the broker was away for too long; the journal has them",
			"code", "alarm-events-given-up", "count", lost)
	}
	if n == 0 {
		return
	}
	posts := make([]*post, n)
	for i, one := range batch {
		payload := one.plain
		if one.event != nil {
			e := *one.event
			e.Sent = s.opt.Now()
			payload = e.JSON()
		}
		posts[i] = newPost(one.topic, payload, false)
	}
	_, acked, _ := l.send(ctx, controlLane, posts) // a failure ends the connection, which the session sees
	b.mu.Lock()
	// What was given up meanwhile was the oldest, so the acknowledged ones are found by what they are.
	for _, done := range batch[:acked] {
		if len(b.queue) > 0 && b.queue[0].topic == done.topic && b.queue[0].id == done.id {
			b.queue = b.queue[1:]
		}
	}
	more := len(b.queue) > 0
	b.mu.Unlock()
	for _, done := range batch[:acked] {
		if done.id != "" && s.opt.OnEventSent != nil {
			s.opt.OnEventSent(done.id)
		}
	}
	if more && acked == n {
		s.nudge()
	}
}

// listen subscribes to the requests. A broker may deny that.
func (s *Sink) listen(ctx context.Context, l *link) {
	if s.opt.OnRequest == nil {
		return
	}
	root := s.topics.root
	topic := root + "/+/request/+"
	token := l.client.Subscribe(topic, 1, func(_ paho.Client, m paho.Message) {
		limit, user, ok := requestTopic(root, m.Topic())
		if !ok {
			return
		}
		if m.Retained() {
			s.opt.Logger.Warn("a retained request was not done: it would be done again at every start; publish requests without retain",
				"code", "request-retained", "limit", shorten(limit), "user", shorten(user))
			return
		}
		s.opt.OnRequest(limit, user, m.Payload())
	})
	err := l.await(ctx, token)
	if sub, ok := token.(*paho.SubscribeToken); ok && err == nil && sub.Result()[topic] == 0x80 { // failure; MQTT 3.1.1, 3.9.3
		err = errors.New("the broker denied it")
	}
	if err != nil && ctx.Err() == nil {
		s.opt.Logger.Warn("requests cannot be taken from the broker; alarms are told on all the same; check that this user may read "+
			"the request topics", "code", "requests-denied", "topic", topic, "error", fmt.Sprint(err))
	}
}

// requestTopic takes LIMIT and USER out of ROOT/LIMIT/request/USER.
func requestTopic(root, topic string) (limit, user string, ok bool) {
	rest, ok := strings.CutPrefix(topic, root+"/")
	parts := strings.Split(rest, "/")
	if !ok || len(parts) != 3 || parts[1] != "request" || parts[0] == "" || parts[2] == "" {
		return "", "", false
	}
	return parts[0], parts[2], true
}
