package mqtt

import (
	"bufio"
	"net"
	"strings"
	"sync"
	"time"
)

// wire is the connection below the client. The client sets no time limit on pings, subscriptions and its goodbye, so a
// peer that stops reading would hold them for ever; wire bounds every write. The client takes a connection closed
// under it for its own doing and does not notice; wire makes it notice. And the client writes message by message; wire
// gathers them.
type wire struct {
	net.Conn
	out *gatherer
	in  *bufio.Reader // the client reads an answer of four bytes in three pieces

	mu  sync.Mutex
	cut error // why it was cut
}

func newWire(c net.Conn, within time.Duration) *wire {
	w := &wire{Conn: c, in: bufio.NewReader(hasty{c, hurry(c)})}
	w.out = newGatherer(func(p []byte) error {
		err := c.SetWriteDeadline(time.Now().Add(within))
		if err == nil {
			_, err = c.Write(p)
		}
		if err != nil {
			w.sever(err)
		}
		return w.reason(err)
	})
	return w
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

// Write takes p over; it is sent at once, or with what comes while something else is on its way. What cannot be sent within
// a bounded time ends the connection.
func (w *wire) Write(p []byte) (int, error) { return w.out.Write(p) }

// Read is that of net.Conn.
func (w *wire) Read(p []byte) (int, error) {
	n, err := w.in.Read(p)
	return n, w.reason(err)
}

// Close sends what was taken over, within the time of a write, and closes the connection.
func (w *wire) Close() error {
	w.out.end()
	return w.Conn.Close()
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
	why = w.cut
	w.mu.Unlock()
	_ = bottom(w.Conn).Close() // not through the encryption, whose own goodbye would wait for a peer that does not read
	w.out.fail(why)
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
