package control

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"syscall"
	"time"
)

// Unreachable says why no bridge could be asked, and what to do about it.
type Unreachable struct {
	Socket string
	Text   string
	Err    error
}

// Error gives the text.
func (e *Unreachable) Error() string { return e.Text }

// Unwrap gives the cause.
func (e *Unreachable) Unwrap() error { return e.Err }

// NotThere tells whether there is no bridge to ask, as against one that does not let this user in.
func (e *Unreachable) NotThere() bool {
	return errors.Is(e.Err, fs.ErrNotExist) || errors.Is(e.Err, errRefused)
}

// Client asks the bridge on one socket. Close it after use.
type Client struct {
	socket string
	http   *http.Client
}

// NewClient makes a client; it connects with the first request.
func NewClient(socket string) *Client {
	dialer := net.Dialer{Timeout: 5 * time.Second}
	return &Client{socket: socket, http: &http.Client{Transport: &http.Transport{
		DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
			return dialer.DialContext(ctx, "unix", socket)
		},
	}}}
}

// Close ends the idle connections.
func (c *Client) Close() { c.http.CloseIdleConnections() }

// Do sends a request and waits for its answer, for as long as ctx allows. The error is an *Unreachable where no bridge could
// be asked; an answer that says no is no error.
func (c *Client) Do(ctx context.Context, r Request) (Answer, error) {
	body, err := json.Marshal(r)
	if err != nil {
		return Answer{}, err
	}
	q, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://bridge"+path, bytes.NewReader(body))
	if err != nil {
		return Answer{}, err
	}
	q.Header.Set("Content-Type", "application/json")
	resp, err := c.http.Do(q)
	if err != nil {
		if ctx.Err() != nil {
			return Answer{}, ctx.Err()
		}
		return Answer{}, c.unreachable(err)
	}
	text, err := io.ReadAll(resp.Body)
	if err = errors.Join(err, resp.Body.Close()); err != nil {
		return Answer{}, fmt.Errorf("the bridge broke off its answer: %w", err)
	}
	var a Answer
	if err := json.Unmarshal(text, &a); err != nil {
		return Answer{}, fmt.Errorf("what answers on %s is no bridge: %w", c.socket, err)
	}
	return a, nil
}

// Ask is Do with arguments to write and data to read; data may be nil.
func (c *Client) Ask(ctx context.Context, r Request, args, data any) (Answer, error) {
	var err error
	if args != nil {
		if r.Args, err = json.Marshal(args); err != nil {
			return Answer{}, err
		}
	}
	a, err := c.Do(ctx, r)
	if err == nil && a.Done && data != nil {
		if err = json.Unmarshal(a.Data, data); err != nil {
			err = fmt.Errorf("the answer of the bridge cannot be read; is it another version of the program? %w", err)
		}
	}
	return a, err
}

func (c *Client) unreachable(err error) error {
	e := &Unreachable{Socket: c.socket, Err: err}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		e.Text = fmt.Sprintf("no bridge is running on this configuration: its control socket %s is not there; start it with run, or correct the configuration named with -c", c.socket)
	case errors.Is(err, errRefused):
		e.Text = fmt.Sprintf("no bridge answers on %s: the one that made it has ended; start it with run", c.socket)
	case errors.Is(err, fs.ErrPermission):
		e.Text = fmt.Sprintf("you may not use the control socket %s%s; ask to be made a member of its group, or use the account the bridge runs under", c.socket, owners(c.socket))
	default:
		e.Text = fmt.Sprintf("the bridge on %s cannot be asked: %v", c.socket, err)
	}
	return e
}

// owners says whose the socket is.
func owners(socket string) string {
	info, err := os.Stat(socket)
	if err != nil {
		return ""
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return ""
	}
	return fmt.Sprintf(" (it is open to user %d and group %d)", st.Uid, st.Gid)
}
