package mqtt

import (
	"cmp"
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// lane is what a message is part of. Each has a window of its own.
type lane uint8

const (
	liveLane    lane = iota
	controlLane      // states, presence, canary
	lateLane
	lanes
)

// post is one message on its way.
type post struct {
	topic    string
	payload  []byte
	retained bool

	until time.Time // it must not be sent after that; zero: no bound

	at     time.Time     // when it was handed over for publishing
	placed chan struct{} // closed once token is there, or the message was found stale; of all that were handed over together
	token  paho.Token
	stale  bool // it was not sent: it came after until
}

func newPost(topic string, payload []byte, retained bool) *post {
	return &post{topic: topic, payload: payload, retained: retained}
}

// acked tells whether the broker has acknowledged the message, which was handed over.
func (p *post) acked() bool {
	select {
	case <-p.placed:
	default:
		return false
	}
	if p.stale {
		return false
	}
	select {
	case <-p.token.Done():
		return p.token.Error() == nil
	default:
		return false
	}
}

var (
	errNoAck = errors.New("the broker did not acknowledge a message in time")
	errLost  = errors.New("the connection was lost")
	errLeft  = errors.New("the connection was ended by this bridge")
	errStale = errors.New("a value became too old to be sent as a live one")
)

// link is one connection, used once. All that is under way on it is lost with it.
type link struct {
	client    paho.Client
	flow      [lanes]*flow
	ackWithin time.Duration
	// endsWithin is when a killed connection counts as lost, should the client never tell.
	endsWithin time.Duration

	urgent, late chan []*post  // to the one goroutine that publishes
	lost         chan struct{} // closed when the connection is gone and every token of it is done

	busy   [lanes]atomic.Int32 // sends under way
	proved atomic.Bool         // something was acknowledged

	mu     sync.Mutex
	wire   *wire
	why    error // why it was lost, or is about to be by our own doing
	byPeer bool  // the broker, or something on the way, closed it
	blamed lane  // the only lane of results with messages under way then; lanes: none, or more than one
	last   *time.Timer
	gone   bool
}

func newLink(opt *Options) *link {
	l := &link{ackWithin: opt.AckWithin, endsWithin: opt.WriteWithin + time.Second,
		urgent: make(chan []*post), late: make(chan []*post), lost: make(chan struct{}), blamed: lanes}
	eighth := opt.Window / 8
	l.flow = [lanes]*flow{
		liveLane:    newFlow(opt.Window-3*eighth, 20*time.Millisecond, 100*time.Millisecond),
		controlLane: newFlow(eighth, 20*time.Millisecond, 100*time.Millisecond),
		lateLane:    newFlow(2*eighth, 10*time.Millisecond, 40*time.Millisecond), // a live value waits behind them
	}
	return l
}

// together is how many messages at most are handed over in one piece. So many late ones an urgent one has to wait for.
const together = 16

// publish hands messages to the client until the connection is lost; it belongs to Run. Publishing may block as long
// as a write does, and at a loss the client blocks that long as well; that must not hold up those who send.
func (l *link) publish() {
	// inARow is after how many urgent pieces a late one has its turn.
	const inARow = 16
	for n := 0; ; n++ {
		var posts []*post
		if n < inARow {
			select {
			case posts = <-l.urgent:
			default:
			}
		}
		if posts == nil {
			select {
			case posts = <-l.late:
				n = 0
			default:
			}
		}
		if posts == nil {
			select {
			case posts = <-l.urgent:
			case posts = <-l.late:
				n = 0
			case <-l.lost:
				return
			}
		}
		for _, p := range posts {
			if p.until.IsZero() || !time.Now().After(p.until) {
				p.token = l.client.Publish(p.topic, 1, p.retained, p.payload)
			} else {
				p.stale = true
			}
		}
		close(posts[0].placed)
	}
}

// send publishes the messages in their order and waits until each is acknowledged. It gives how many were published,
// and how many of them, from the first on without a gap, were acknowledged. Any failure but a cancelled ctx and a message
// that became too old ends the whole connection.
func (l *link) send(ctx context.Context, in lane, posts []*post) (sent, acked int, err error) {
	queue, flow := l.urgent, l.flow[in]
	if in == lateLane {
		queue = l.late
	}
	l.busy[in].Add(1)
	defer l.busy[in].Add(-1)
	limit := time.NewTimer(l.ackWithin)
	defer limit.Stop()
	for acked < len(posts) && err == nil {
		for sent < len(posts) && sent-acked < flow.size && err == nil {
			piece := posts[sent:min(len(posts), sent+together, acked+flow.size)]
			placed, now := make(chan struct{}), time.Now()
			for _, p := range piece {
				p.placed, p.at = placed, now
			}
			select {
			case queue <- piece:
				sent += len(piece)
				limit.Reset(l.ackWithin)
			case <-l.lost:
				err = l.reason()
			case <-ctx.Done():
				err = ctx.Err()
			case <-limit.C:
				err = errNoAck
			}
		}
		if err != nil {
			break
		}
		head := posts[acked]
		if err = l.wait(ctx, head.placed, limit); err == nil && head.stale {
			err = errStale
			break
		}
		if err == nil {
			err = l.wait(ctx, head.token.Done(), limit)
		}
		if err == nil {
			err = head.token.Error()
		}
		if err == nil {
			flow.answered(time.Since(head.at), sent-acked)
			acked++
			l.proved.Store(true)
			limit.Reset(l.ackWithin)
		}
	}
	if err == nil {
		return sent, acked, nil
	}
	if !errors.Is(err, context.Canceled) && !errors.Is(err, errStale) {
		l.kill(err)
		<-l.lost
		err = l.reason()
	}
	for acked < sent && posts[acked].acked() {
		acked++
	}
	return sent, acked, err
}

func (l *link) wait(ctx context.Context, done <-chan struct{}, limit *time.Timer) error {
	select {
	case <-done:
		return nil
	default:
	}
	select {
	case <-done:
		return nil
	case <-l.lost:
		return l.reason()
	case <-ctx.Done():
		return ctx.Err()
	case <-limit.C:
		return errNoAck
	}
}

// kill ends the connection without a goodbye. It does not wait.
func (l *link) kill(why error) {
	l.mu.Lock()
	w := l.wire
	select {
	case <-l.lost:
		w = nil
	default:
		// A message that failed otherwise tells less than the client will tell of the loss behind it.
		if l.why == nil && (errors.Is(why, errNoAck) || errors.Is(why, context.DeadlineExceeded) || errors.Is(why, errLeft)) {
			l.why = why
		}
		if l.last == nil {
			l.last = time.AfterFunc(l.endsWithin, func() { l.ended(why) })
		}
	}
	l.mu.Unlock()
	if w != nil {
		w.sever(why)
	}
}

// ended notes that the connection is gone. The client calls it after every token is done.
func (l *link) ended(why error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.gone {
		return
	}
	l.gone = true
	if l.why == nil {
		l.why = cmp.Or(why, errLost)
	}
	if l.last != nil {
		l.last.Stop()
	}
	if l.byPeer = closedByPeer(l.why); l.byPeer && l.proved.Load() {
		l.blamed = l.only()
	}
	close(l.lost)
}

// only gives the one lane of results with messages under way, or lanes. The other messages are not suspected: every
// connection begins with them, and carries results only once they are acknowledged.
func (l *link) only() lane {
	switch live, late := l.busy[liveLane].Load() > 0, l.busy[lateLane].Load() > 0; {
	case live && !late:
		return liveLane
	case late && !live:
		return lateLane
	}
	return lanes
}

func (l *link) reason() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.why
}

// verdict tells whether the far end closed the connection, and which lane alone had messages under way then.
func (l *link) verdict() (byPeer bool, blamed lane) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.byPeer, l.blamed
}

// leave says goodbye, so that the broker does not publish the will.
func (l *link) leave() {
	l.mu.Lock()
	w := l.wire
	l.mu.Unlock()
	if w != nil {
		w.discard(false)
	}
	l.client.Disconnect(1000) // ms at most
	if w != nil {
		w.sever(errLeft) // should it not have gone out
	}
	l.ended(errLeft)
}

// await waits for the answer to something other than a message.
func (l *link) await(ctx context.Context, t paho.Token) error {
	limit := time.NewTimer(l.ackWithin)
	defer limit.Stop()
	if err := l.wait(ctx, t.Done(), limit); err != nil {
		return err
	}
	return t.Error()
}
