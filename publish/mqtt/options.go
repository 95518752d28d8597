package mqtt

import (
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"slices"
	"strings"
	"time"

	"manobridge/publish"
)

// Options say where the broker is and what is published. URL, Prefix, Site, Bridge, Run and ClientID must be set.
type Options struct {
	// URL of the broker, with host and port and without user: tcp:// or mqtt:// plain; ssl://, tls:// or mqtts://
	// encrypted; ws:// or wss:// over a web server.
	URL string
	// ClientID the broker knows this bridge by; no two clients may share one.
	ClientID           string
	Username, Password string
	// TLS names the certificates of an encrypted connection. They are read anew for each connection, so that renewed
	// ones are taken up.
	TLS TLS

	Prefix, Site, Bridge string // the levels of every topic
	Run                  string // this start of the bridge

	// Instruments whose states are published from the start, before their first reading.
	Instruments []string
	About       []publish.About
	// ValidFor is how long a state holds without a new one; default 150 s. It must be longer than StateEvery and than
	// the longest time between two readings of an instrument.
	ValidFor time.Duration
	// StateEvery is how often states are repeated; default 60 s.
	StateEvery time.Duration

	// OnRequest gets the requests that come in on LIMIT/request/USER; nil takes none. OnEventSent tells the id of a transition
	// that the broker has acknowledged. Neither may block.
	OnRequest   func(limit, user string, message []byte)
	OnEventSent func(id string)

	// Window bounds how many messages are under way without an acknowledgement; 8 to 1024, default 1024. A quarter of it
	// is for late results. Where acknowledgements take long, fewer are under way.
	Window int
	// AckWithin is how long the oldest message under way may take; default 10 s.
	AckWithin time.Duration
	// WriteWithin is how long the network may take a message off our hands; default 5 s.
	WriteWithin time.Duration
	// LeaveWithin bounds how long Run goes on after it is asked to stop; default 5 s.
	LeaveWithin time.Duration
	// BackoffMin and BackoffMax bound the pause before the next connection, which doubles each time and is shortened
	// by up to a half at random; defaults 500 ms and 30 s.
	BackoffMin, BackoffMax time.Duration
	// KeepAlive is how long the connection may be silent before it is tested, in whole seconds; default 15 s.
	KeepAlive time.Duration
	// CanaryEvery is how often a canary is sent after the first; default 60 s. It must come back within CanaryWithin;
	// default 10 s.
	CanaryEvery, CanaryWithin time.Duration

	Now    func() time.Time // default time.Now; must keep the monotonic clock
	Logger *slog.Logger     // default: none
}

const (
	largestWindow = 1024
	// largestMessage bounds a message, in bytes. A result has some 500; MQTT allows 268 435 455 (MQTT 3.1.1, 2.2.3),
	// brokers are often set to less.
	largestMessage = 64 << 10
	connectWithin  = 10 * time.Second
	// steady is how long a connection must last to count as a good one.
	steady = 10 * time.Second
)

func (o *Options) fill() (*url.URL, error) {
	broker, err := o.broker()
	if err != nil {
		return nil, err
	}
	switch {
	case o.Run == "":
		return nil, errors.New("mqtt: no run given")
	case o.ClientID == "":
		return nil, errors.New("mqtt: no client id given; without one some brokers refuse the connection")
	case o.Password != "" && o.Username == "":
		return nil, errors.New("mqtt: a password without a username; MQTT 3.1.1 does not allow it (3.1.2.9)")
	case o.Window < 0 || o.Window > 0 && o.Window < 8 || o.Window > largestWindow:
		return nil, fmt.Errorf("mqtt: window of %d messages; allowed: 8 to %d", o.Window, largestWindow)
	case o.KeepAlive != 0 && (o.KeepAlive < time.Second || o.KeepAlive > 65535*time.Second):
		return nil, fmt.Errorf("mqtt: keep-alive of %v; allowed: 1 s to 65535 s", o.KeepAlive)
	case slices.Contains(o.Instruments, o.Bridge):
		return nil, fmt.Errorf("mqtt: %q names an instrument and the bridge; their topics would mix", o.Bridge)
	}
	if o.Window == 0 {
		o.Window = largestWindow
	}
	otherwise(&o.ValidFor, 150*time.Second)
	otherwise(&o.StateEvery, time.Minute)
	otherwise(&o.AckWithin, 10*time.Second)
	otherwise(&o.WriteWithin, 5*time.Second)
	otherwise(&o.LeaveWithin, 5*time.Second)
	otherwise(&o.BackoffMin, 500*time.Millisecond)
	otherwise(&o.BackoffMax, 30*time.Second)
	o.BackoffMax = max(o.BackoffMin, o.BackoffMax)
	otherwise(&o.KeepAlive, 15*time.Second)
	otherwise(&o.CanaryEvery, time.Minute)
	otherwise(&o.CanaryWithin, 10*time.Second)
	if o.ValidFor <= o.StateEvery {
		return nil, fmt.Errorf("mqtt: states hold for %v and are repeated every %v; allowed: longer than that",
			o.ValidFor, o.StateEvery)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if _, err := o.TLS.config(); err != nil {
		return nil, fmt.Errorf("mqtt: %w", err)
	}
	return broker, nil
}

func otherwise(v *time.Duration, d time.Duration) {
	if *v <= 0 {
		*v = d
	}
}

// broker reads the URL. A user in it would silently win over Username, and would be logged.
func (o *Options) broker() (*url.URL, error) {
	const allowed = "allowed: tcp, mqtt, ssl, tls, mqtts, ws or wss, host and port, as tcp://broker.example:1883"
	u, err := url.Parse(o.URL)
	switch {
	case err != nil:
		return nil, errors.New("mqtt: the url cannot be read; " + allowed) // it may hold a password
	case u.User != nil:
		return nil, fmt.Errorf("mqtt: url %q holds a user; give username and password apart", u.Redacted())
	case !slices.Contains([]string{"tcp", "mqtt", "ssl", "tls", "mqtts", "ws", "wss"}, u.Scheme),
		u.Hostname() == "" || u.Port() == "":
		return nil, fmt.Errorf("mqtt: url %q; %s", u.Redacted(), allowed)
	case !strings.HasPrefix(u.Scheme, "ws") && strings.Trim(u.Path, "/") != "":
		return nil, fmt.Errorf("mqtt: url %q has a path; %s", u.Redacted(), allowed)
	}
	return u, nil
}
