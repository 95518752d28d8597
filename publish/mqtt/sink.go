package mqtt

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"sync"
	"sync/atomic"

	"manobridge/publish"
)

// Sink publishes to one broker. Its methods are safe for concurrent use.
//
// Run must be running for anything to be delivered. Stop the outbox first, then close the sink.
type Sink struct {
	opt    Options
	broker *url.URL
	topics topics
	news   *news // of Run

	changed chan struct{} // a state changed; holds one
	stop    chan struct{} // closed by Close
	ended   chan struct{} // closed when Run has returned
	under   sync.WaitGroup

	mu       sync.Mutex
	link     *link                 // nil while there is none
	up       chan struct{}         // closed while there is one
	refused  *publish.DeliverError // why the broker lets nobody in; nil when it does or cannot be reached
	leaving  bool                  // no delivery is begun any more
	running  bool
	stopping sync.Once
	board    *board
	largest  atomic.Int64 // bytes of the largest result that was acknowledged
	states   map[string]*state
	names    []string // of states, in the order they came
	// withdrawn are instruments whose description is taken away; aboutDirty tells that descriptions changed.
	withdrawn  map[string]bool
	aboutDirty bool
}

// New makes a sink. It opens no connection.
func New(opt Options) (*Sink, error) {
	broker, err := opt.fill()
	if err != nil {
		return nil, err
	}
	s := &Sink{opt: opt, broker: broker, topics: topics{opt.Prefix + "/" + opt.Site},
		changed: make(chan struct{}, 1), stop: make(chan struct{}), ended: make(chan struct{}),
		up: make(chan struct{}), board: newBoard(), states: map[string]*state{}, withdrawn: map[string]bool{}}
	s.news = newNews(opt.Logger, broker, opt.ClientID)
	for _, level := range [][2]string{{"prefix", opt.Prefix}, {"site", opt.Site}, {"bridge", opt.Bridge}} {
		if err := checkLevel(level[0], level[1]); err != nil {
			return nil, fmt.Errorf("mqtt: %w", err)
		}
	}
	for _, name := range opt.Instruments {
		if err := checkLevel("instrument", name); err != nil {
			return nil, fmt.Errorf("mqtt: %w", err)
		}
		s.newState(name)
	}
	for _, a := range opt.About {
		err := errors.Join(checkLevel("instrument", a.Instrument), checkMessage(s.topics.of(a.Instrument, "about"), a.JSON()))
		if err != nil {
			return nil, fmt.Errorf("mqtt: %w", err)
		}
	}
	if topic := s.topics.of(opt.Bridge, "presence"); len(topic) > longestTopic {
		return nil, fmt.Errorf("mqtt: topic of %d bytes; allowed: %d", len(topic), longestTopic)
	}
	logLibrary(opt.Logger)
	return s, nil
}

// Name is that of publish.Sink.
func (s *Sink) Name() string { return "mqtt" }

// Ready is that of publish.Readier. While the broker refuses the connection it returns that refusal at once.
func (s *Sink) Ready(ctx context.Context) error {
	s.mu.Lock()
	up, refused := s.up, s.refused
	s.mu.Unlock()
	select {
	case <-up:
		return nil
	default:
	}
	if refused != nil {
		return refused
	}
	select {
	case <-up:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Deliver is that of publish.Sink.
func (s *Sink) Deliver(ctx context.Context, batch []publish.Row) error {
	if len(batch) == 0 {
		return nil
	}
	posts := make([]*post, 0, len(batch))
	var unfit error
	for i := range batch {
		p, err := s.post(&batch[i])
		if err != nil {
			unfit = err
			break
		}
		posts = append(posts, p)
	}
	l, failed := s.begin()
	if failed != nil {
		return failed
	}
	defer s.under.Done()
	in := liveLane
	if batch[0].Late {
		in = lateLane
	}
	sent, acked, err := l.send(ctx, in, posts)
	for _, p := range posts[:acked] {
		if n := int64(len(p.payload)); n > s.largest.Load() {
			s.largest.Store(n)
		}
	}
	switch {
	case err != nil:
		return s.judge(l, in, sent, acked, err)
	case unfit != nil:
		return &publish.DeliverError{Acked: acked, Class: publish.Content, Code: "mqtt-message", Err: unfit}
	}
	return nil
}

// post makes the message of one result.
func (s *Sink) post(r *publish.Row) (*post, error) {
	if err := checkLevel("instrument", r.Instrument); err != nil {
		return nil, err
	}
	leaf := "pressure"
	if r.Late {
		leaf = "backlog"
	}
	topic := s.topics.of(r.Instrument, leaf)
	m := publish.NewMessage(s.opt.Site, &r.Result)
	payload := m.Append(make([]byte, 0, 512)) // most are shorter
	if err := checkMessage(topic, payload); err != nil {
		return nil, err
	}
	p := newPost(topic, payload, false)
	p.until = r.FreshUntil
	return p, nil
}

// begin gives the connection to deliver on; the caller ends with s.under.Done.
func (s *Sink) begin() (*link, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case s.leaving:
		return nil, &publish.DeliverError{Class: publish.Transient, Code: "mqtt-closing", Err: errLeft}
	case s.link == nil && s.refused != nil:
		return nil, s.refused
	case s.link == nil:
		return nil, &publish.DeliverError{Class: publish.Transient, Code: "broker-down",
			Err: errors.New("no connection to the broker")}
	}
	s.under.Add(1)
	return s.link, nil
}

// judge says what a failed delivery means. Rows are suspected only where the broker closed a connection that had
// worked and that carried nothing but rows of this lane: else the innocent are put aside with the guilty.
func (s *Sink) judge(l *link, in lane, sent, acked int, err error) error {
	e := &publish.DeliverError{Acked: acked, Class: publish.Transient, Code: "broker-lost",
		Err: fmt.Errorf("publish to %s: %w", s.broker.Host, err)}
	switch byPeer, blamed := l.verdict(); {
	case errors.Is(err, errStale):
		e.Class, e.Code = publish.Stale, "too-old"
	case errors.Is(err, errNoAck):
		e.Code = "broker-silent"
	case errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded):
		e.Code = "delivery-cut"
	case byPeer && blamed == in && sent > acked:
		e.Class = publish.Suspect
	}
	return e
}

// Close ends Run: it lets deliveries under way end, publishes that the bridge leaves and that no instrument can be
// trusted any more, and says goodbye, all within LeaveWithin. It waits until Run has returned, which after a loss just
// before takes up to WriteWithin more.
func (s *Sink) Close() error {
	s.stopping.Do(func() { close(s.stop) })
	s.mu.Lock()
	s.leaving = true
	running := s.running
	s.mu.Unlock()
	if running {
		<-s.ended
	}
	return nil
}

func (s *Sink) connected(l *link) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.link, s.refused = l, nil
	close(s.up)
}

func (s *Sink) disconnected() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.link, s.up = nil, make(chan struct{})
}

func (s *Sink) notConnected(refused *publish.DeliverError) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.refused = refused
}
