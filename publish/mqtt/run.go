package mqtt

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"manobridge/publish"
)

// Run keeps the connection until ctx is done or Close is called, then leaves as Close says and returns nil. A broker
// that is not there is waited for. Call it once.
func (s *Sink) Run(ctx context.Context) error {
	s.mu.Lock()
	again := s.running
	s.running = true
	s.mu.Unlock()
	if again {
		return errors.New("mqtt: run twice")
	}
	defer close(s.ended)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var own sync.WaitGroup
	defer own.Wait()
	defer stop()
	// The goodbye is not cut off at the stop: work ends LeaveWithin later.
	work, cut := context.WithCancel(context.WithoutCancel(ctx))
	defer cut()
	own.Go(func() {
		select {
		case <-s.stop:
			stop()
		case <-ctx.Done():
		}
	})
	defer context.AfterFunc(ctx, func() { time.AfterFunc(s.opt.LeaveWithin, cut) })()

	s.news.start(time.Now())
	for failures := 0; ; {
		l, err := s.connect(ctx)
		began := time.Now()
		switch {
		case err == nil:
			own.Go(l.publish)
			s.session(ctx, work, l)
			if ctx.Err() != nil {
				return nil
			}
			if byPeer, _ := l.verdict(); byPeer || s.news.isUp() {
				s.news.lost(l.reason(), byPeer, began, time.Now())
			} else {
				s.news.failed(l.reason(), "", time.Now())
			}
		case ctx.Err() != nil:
			return nil
		default:
			refusal := refusal(err)
			if refusal != "" {
				s.notConnected(&publish.DeliverError{Class: publish.Configuration, Code: "broker-refused",
					Err: fmt.Errorf("connect to %s: %w", s.broker.Host, err)})
			} else {
				s.notConnected(nil)
			}
			s.news.failed(err, refusal, time.Now())
		}
		if err == nil && time.Since(began) >= steady {
			failures = 0
		}
		if !s.pause(ctx, failures, err != nil && refusal(err) != "") {
			return nil
		}
		failures++
	}
}

// pause waits before the next connection. A refusal does not pass by itself.
func (s *Sink) pause(ctx context.Context, failures int, refused bool) bool {
	d := s.opt.BackoffMin << min(failures, 20)
	if d <= 0 || d > s.opt.BackoffMax || refused {
		d = s.opt.BackoffMax
	}
	t := time.NewTimer(d - time.Duration(rand.Int64N(int64(d)/2+1))) // so that many bridges do not come back in step
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// connect makes one connection with a client of its own.
func (s *Sink) connect(ctx context.Context) (*link, error) {
	secure, err := s.opt.TLS.config()
	if err != nil {
		return nil, err
	}
	l := newLink(&s.opt)
	will := s.presence(publish.Lost, s.opt.Now())
	o := paho.NewClientOptions().
		SetClientID(s.opt.ClientID).SetUsername(s.opt.Username).SetPassword(s.opt.Password).
		SetProtocolVersion(4). // 3.1.1, and no second try with 3.1
		SetCleanSession(true).SetAutoReconnect(false).SetConnectRetry(false).SetStore(forgetful{}).
		SetConnectTimeout(connectWithin).SetWriteTimeout(s.opt.WriteWithin).
		SetKeepAlive(s.opt.KeepAlive).SetPingTimeout(s.opt.AckWithin).
		SetBinaryWill(will.topic, will.payload, 1, will.retained).
		SetConnectionLostHandler(func(_ paho.Client, why error) { l.ended(why) }).
		SetCustomOpenConnectionFn(func(u *url.URL, _ paho.ClientOptions) (net.Conn, error) {
			c, err := dial(ctx, u, secure)
			if err != nil {
				return nil, err
			}
			w := newWire(c, s.opt.WriteWithin)
			w.discard(true)
			l.mu.Lock()
			l.wire = w
			l.mu.Unlock()
			if ctx.Err() != nil {
				_ = w.Close()
				return nil, ctx.Err()
			}
			return w, nil
		})
	o.Servers = []*url.URL{s.broker}
	l.client = paho.NewClient(o)
	abort := context.AfterFunc(ctx, func() {
		l.mu.Lock()
		w := l.wire
		l.mu.Unlock()
		if w != nil {
			w.sever(ctx.Err())
		}
	})
	token := l.client.Connect()
	<-token.Done() // within connectWithin for the network and as much for the broker's answer
	abort()
	return l, token.Error()
}

// session publishes the retained messages and minds the connection until it is lost, or leaves it when ctx is done.
// Results go only after the broker has acknowledged the retained messages: by then the connection is proved good.
func (s *Sink) session(ctx, work context.Context, l *link) {
	greeting := []*post{s.presence(publish.Present, s.opt.Now())}
	greeting = append(greeting, s.statePosts(true)...)
	greeting = append(greeting, s.aboutPosts(true)...)
	greeting = append(greeting, s.boardPosts(true)...)
	c := newCanary(s)
	defer c.stop()
	if _, _, err := l.send(work, controlLane, greeting); err == nil {
		s.news.up(time.Now())
		s.connected(l)
		defer s.disconnected()
		c.start(ctx, l)
		s.listen(ctx, l)
		s.sendNotices(work, l)
	} else {
		l.kill(err) // where it was cut off at the stop
		<-l.lost
		return
	}
	repeat := time.NewTicker(s.opt.StateEvery)
	defer repeat.Stop()
	stands := time.NewTimer(steady)
	defer stands.Stop()
	for {
		var posts []*post
		select {
		case <-l.lost:
			return
		default:
		}
		select {
		case <-l.lost:
			return
		case <-ctx.Done():
			s.leave(work, l)
			return
		case <-s.changed:
			posts = append(append(s.statePosts(false), s.aboutPosts(false)...), s.boardPosts(false)...)
		case <-repeat.C:
			posts = append(s.statePosts(true), s.boardPosts(true)...)
		case <-stands.C:
			s.news.stands()
		case <-c.next.C:
			posts = c.sends()
		case n := <-c.back:
			c.came(n)
		case <-c.limit.C:
			c.missed()
		}
		_, _, _ = l.send(work, controlLane, posts) // a failure ends the connection, which is seen above
		s.sendNotices(work, l)
	}
}

// leave lets deliveries end and says goodbye.
func (s *Sink) leave(work context.Context, l *link) {
	s.mu.Lock()
	s.leaving = true
	s.mu.Unlock()
	stop := context.AfterFunc(work, func() { l.kill(errLeft) })
	defer stop()
	s.under.Wait() // ends at the latest when work does
	s.sendNotices(work, l)
	if _, _, err := l.send(work, controlLane, append(s.aboutPosts(false), s.farewell()...)); err != nil {
		l.kill(errLeft) // no goodbye: the will tells
		<-l.lost
		return
	}
	l.leave()
}
