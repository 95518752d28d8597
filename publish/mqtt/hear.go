package mqtt

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// Ear is a subscriber of its own, for one topic, apart from any sink.
type Ear struct {
	client   paho.Client
	messages chan []byte
	lost     chan error
}

// Listen connects to the broker of the options under their client id, which must be no other's, and subscribes to one topic
// below the site. A message that comes while sixteen wait is dropped. Close it after use.
func Listen(ctx context.Context, opt Options, name, leaf string) (*Ear, error) {
	broker, err := opt.fill()
	if err != nil {
		return nil, err
	}
	secure, err := opt.TLS.config()
	if err != nil {
		return nil, err
	}
	e := &Ear{messages: make(chan []byte, 16), lost: make(chan error, 1)}
	o := paho.NewClientOptions().SetClientID(opt.ClientID).SetUsername(opt.Username).SetPassword(opt.Password).
		SetProtocolVersion(4).SetCleanSession(true).SetAutoReconnect(false).SetConnectRetry(false).
		SetConnectTimeout(connectWithin).SetWriteTimeout(opt.WriteWithin).SetKeepAlive(opt.KeepAlive).
		SetConnectionLostHandler(func(_ paho.Client, why error) { e.lost <- why }).
		SetCustomOpenConnectionFn(func(u *url.URL, _ paho.ClientOptions) (net.Conn, error) { return dial(ctx, u, secure) })
	o.Servers = []*url.URL{broker}
	e.client = paho.NewClient(o)
	if err := within(ctx, e.client.Connect()); err != nil {
		return nil, fmt.Errorf("connect to %s: %w", broker.Host, err)
	}
	topic := topics{opt.Prefix + "/" + opt.Site}.of(name, leaf)
	token := e.client.Subscribe(topic, 1, func(_ paho.Client, m paho.Message) {
		select {
		case e.messages <- m.Payload():
		default:
		}
	})
	err = within(ctx, token)
	if sub, ok := token.(*paho.SubscribeToken); ok && err == nil && sub.Result()[topic] == 0x80 { // failure; MQTT 3.1.1, 3.9.3
		err = errors.New("the broker denied it")
	}
	if err != nil {
		e.Close()
		return nil, fmt.Errorf("subscribe to %s: %w", topic, err)
	}
	return e, nil
}

// Next gives the next message, or why none came.
func (e *Ear) Next(ctx context.Context) ([]byte, error) {
	select {
	case m := <-e.messages:
		return m, nil
	case why := <-e.lost:
		return nil, fmt.Errorf("the connection to the broker was lost: %w", why)
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// Close leaves.
func (e *Ear) Close() { e.client.Disconnect(250) } // ms at most

func within(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		return t.Error()
	case <-ctx.Done():
		return ctx.Err()
	}
}
