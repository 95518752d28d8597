package mqtt

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"strings"
	"sync"
	"syscall"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// TLS names the certificates of an encrypted connection, all in PEM.
type TLS struct {
	CAFile            string // of the authorities that are trusted; empty: those of the machine
	CertFile, KeyFile string // this bridge's own; both or none
}

// config reads the files.
func (t TLS) config() (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if t.CAFile != "" {
		pem, err := os.ReadFile(t.CAFile)
		if err != nil {
			return nil, fmt.Errorf("read the trusted certificates: %w", err)
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("read the trusted certificates: no certificate in %s; allowed: PEM", t.CAFile)
		}
	}
	if (t.CertFile == "") != (t.KeyFile == "") {
		return nil, errors.New("a certificate of the bridge needs its key, and the key its certificate")
	}
	if t.CertFile != "" {
		pair, err := tls.LoadX509KeyPair(t.CertFile, t.KeyFile)
		if err != nil {
			return nil, fmt.Errorf("read the certificate of the bridge: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// dial opens the network connection. It ends early when ctx is done, but for ws and wss.
func dial(ctx context.Context, u *url.URL, secure *tls.Config) (net.Conn, error) {
	plain := &net.Dialer{Timeout: connectWithin}
	switch u.Scheme {
	case "ws", "wss":
		return paho.NewWebsocket(u.String(), secure, connectWithin, nil, nil)
	case "ssl", "tls", "mqtts":
		ctx, cancel := context.WithTimeout(ctx, connectWithin) // for the handshake as well
		defer cancel()
		return (&tls.Dialer{NetDialer: plain, Config: secure}).DialContext(ctx, "tcp", u.Host)
	}
	return plain.DialContext(ctx, "tcp", u.Host)
}

// wire is the connection below the client. The client sets no time limit on pings, subscriptions and its goodbye, so a
// peer that stops reading would hold them for ever; wire bounds every write. And the client takes a connection closed
// under it for its own doing and does not notice; wire makes it notice.
type wire struct {
	net.Conn
	within  time.Duration // for one write
	writing sync.Mutex    // also: a websocket must not be written by two
	in      *bufio.Reader // the client reads an answer of four bytes in three pieces

	mu  sync.Mutex
	cut error // why it was cut
}

func newWire(c net.Conn, within time.Duration) *wire {
	return &wire{Conn: c, within: within, in: bufio.NewReader(hasty{c, hurry(c)})}
}

// hasty hurries after each read.
type hasty struct {
	net.Conn
	hurry func()
}

// Read is that of net.Conn.
func (h hasty) Read(p []byte) (int, error) {
	n, err := h.Conn.Read(p)
	h.hurry()
	return n, err
}

// Write is that of net.Conn, within a bounded time.
func (w *wire) Write(p []byte) (int, error) {
	w.writing.Lock()
	defer w.writing.Unlock()
	if err := w.Conn.SetWriteDeadline(time.Now().Add(w.within)); err != nil {
		return 0, w.reason(err)
	}
	n, err := w.Conn.Write(p)
	return n, w.reason(err)
}

// Read is that of net.Conn.
func (w *wire) Read(p []byte) (int, error) {
	n, err := w.in.Read(p)
	return n, w.reason(err)
}

// SetWriteDeadline does nothing: every write has its own.
func (w *wire) SetWriteDeadline(time.Time) error { return nil }

func (w *wire) reason(err error) error {
	if err == nil {
		return nil
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.cut != nil {
		return w.cut
	}
	return err
}

// sever ends the connection without a goodbye, so that the broker publishes the will.
func (w *wire) sever(why error) {
	w.mu.Lock()
	if w.cut == nil {
		w.cut = &severed{why}
	}
	w.mu.Unlock()
	_ = bottom(w.Conn).Close() // not through the encryption, whose own goodbye would wait for a peer that does not read
}

// bottom is the connection below encryption and websocket.
func bottom(c net.Conn) net.Conn {
	for {
		over, ok := c.(interface{ NetConn() net.Conn })
		if !ok {
			return c
		}
		c = over.NetConn()
	}
}

// discard says what becomes of what is written and not yet sent when the connection is closed, by whomever: the system
// is to forget it, also when this process is killed. Else it would go on sending after a stall, and hand live values
// over as new that are old by then. It is turned off for a goodbye alone.
func (w *wire) discard(yes bool) {
	seconds := -1 // send it in the background
	if yes {
		seconds = 0
	}
	if c, ok := bottom(w.Conn).(*net.TCPConn); ok {
		_ = c.SetLinger(seconds) // fails on a closed connection alone
	}
}

// severed is why a connection was cut. Its text never holds the words by which the client knows its own closing.
type severed struct{ why error }

// Error gives the reason.
func (e *severed) Error() string {
	return strings.ReplaceAll(e.why.Error(), net.ErrClosed.Error(), "connection closed")
}

// Unwrap gives the reason.
func (e *severed) Unwrap() error { return e.why }

// closedByPeer tells a connection that was closed from the far end from one that fell silent or that we ended.
func closedByPeer(err error) bool {
	return errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, syscall.ECONNRESET) || errors.Is(err, syscall.EPIPE) ||
		strings.HasPrefix(err.Error(), "websocket: close ")
}
