// Package ingesttest holds what the tests of reading need: a pair of pseudo-terminals that can be unplugged and
// plugged in again, a port that does on command what no pseudo-terminal can, a player of recorded lines, and a ledger
// that no test can forget. It refuses to let a test end with readings unaccounted for.
package ingesttest

import (
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// writeLimit bounds how long a Write to a line nobody reads may take.
const writeLimit = 10 * time.Second

// Line is a serial line made of a pseudo-terminal pair: the test writes what the instrument would send, the program
// under test opens Path. It may be unplugged, and plugged in again under the same path.
type Line struct {
	// Path is a link to the terminal; it stays the same over Unplug and Plug.
	Path string

	tb     testing.TB
	mu     sync.Mutex
	master *os.File
	// slave is held open so that the master can be written to while the program under test has the port closed.
	slave *os.File
}

// NewLine makes a line, plugged in. It is unplugged when the test ends.
func NewLine(tb testing.TB) *Line {
	tb.Helper()
	l := &Line{Path: filepath.Join(tb.TempDir(), "ttyTEST0"), tb: tb}
	l.Plug()
	tb.Cleanup(l.Unplug)
	return l
}

// NewUnpluggedLine makes a line whose path does not exist until Plug.
func NewUnpluggedLine(tb testing.TB) *Line {
	tb.Helper()
	l := &Line{Path: filepath.Join(tb.TempDir(), "ttyTEST0"), tb: tb}
	tb.Cleanup(l.Unplug)
	return l
}

// Plug makes a new pair under the same path, as an adapter that is plugged in again.
func (l *Line) Plug() {
	l.tb.Helper()
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.master != nil {
		l.tb.Fatal("plug: the line is plugged in already")
	}
	master, slave, err := pty.Open()
	if err != nil {
		l.tb.Fatalf("plug: %v", err)
	}
	// Raw from the start, so that nothing is echoed before the program under test sets its mode.
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		l.tb.Fatalf("plug: %v", err)
	}
	if err := os.Symlink(slave.Name(), l.Path); err != nil {
		l.tb.Fatalf("plug: %v", err)
	}
	l.master, l.slave = master, slave
}

// Unplug takes the line away: what is read from it fails, and its path is gone. Bytes not yet read are lost, as they
// are when a cable is pulled. It does nothing on a line that is not plugged in.
func (l *Line) Unplug() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.master == nil {
		return
	}
	if err := errors.Join(os.Remove(l.Path), l.master.Close(), l.slave.Close()); err != nil {
		l.tb.Errorf("unplug: %v", err)
	}
	l.master, l.slave = nil, nil
}

// Send writes text to the line as the instrument would. It fails the test if nobody reads for ten seconds.
func (l *Line) Send(text string) {
	l.tb.Helper()
	l.mu.Lock()
	master := l.master
	l.mu.Unlock()
	if master == nil {
		l.tb.Fatal("send: the line is not plugged in")
	}
	if err := master.SetWriteDeadline(time.Now().Add(writeLimit)); err != nil {
		l.tb.Fatalf("send: %v", err)
	}
	if _, err := master.Write([]byte(text)); err != nil {
		l.tb.Fatalf("send %q: %v", text, err)
	}
}

// SendBytewise writes text one byte at a time.
func (l *Line) SendBytewise(text string) {
	l.tb.Helper()
	for i := range len(text) {
		l.Send(text[i : i+1])
	}
}

// Master is the instrument's end, for a test that hands it to another process. It stays the line's to close.
func (l *Line) Master() *os.File {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.master
}

// Received reads what the program under test has written, n bytes within ten seconds.
func (l *Line) Received(n int) string {
	l.tb.Helper()
	master := l.Master()
	if err := master.SetReadDeadline(time.Now().Add(writeLimit)); err != nil {
		l.tb.Fatalf("receive: %v", err)
	}
	got := make([]byte, 0, n)
	for len(got) < n {
		buf := make([]byte, n-len(got))
		k, err := master.Read(buf)
		got = append(got, buf[:k]...)
		if err != nil {
			l.tb.Fatalf("receive: %v after %q", err, got)
		}
	}
	return string(got)
}

// Eventually waits until the condition holds, and fails the test after ten seconds.
func Eventually(tb testing.TB, what string, condition func() bool) {
	tb.Helper()
	const limit = 10 * time.Second
	deadline := time.NewTimer(limit)
	defer deadline.Stop()
	look := time.NewTicker(2 * time.Millisecond)
	defer look.Stop()
	for !condition() {
		select {
		case <-look.C:
		case <-deadline.C:
			tb.Fatalf("after %v still not: %s", limit, what)
		}
	}
}
