//go:build unix

package serialport

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// guard is a second descriptor of the port. It holds a lock that also keeps a second administrator out, whom the
// exclusive mode of a terminal lets pass. It writes with a deadline, which the library cannot. And it waits for bytes in the
// runtime's poller: the library's own wait holds a thread of the system for each port.
type guard struct {
	f *os.File

	mu    sync.Mutex // around the deadline of a wait
	woken bool       // nothing waits any more
}

// libraryWaits is how long a read of the library waits for bytes: they are there already, or await has given up.
const libraryWaits = 0

// await returns when there are bytes to read, when the port is gone, which a read then tells, or when limit is over.
func (g *guard) await(limit time.Duration) error {
	raw, err := g.f.SyscallConn()
	if err != nil {
		return err
	}
	g.mu.Lock()
	if !g.woken {
		err = g.f.SetReadDeadline(time.Now().Add(limit))
	}
	g.mu.Unlock()
	if err != nil {
		return err
	}
	err = raw.Read(func(fd uintptr) bool {
		ready := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
		n, err := unix.Poll(ready, 0)
		for err == unix.EINTR {
			n, err = unix.Poll(ready, 0)
		}
		return n > 0 || err != nil // why, a read tells
	})
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return nil
	}
	return err
}

// wake ends the wait under way, and every later one.
func (g *guard) wake() {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.woken = true
	_ = g.f.SetReadDeadline(time.Unix(1, 0)) // fails on a closed file alone, where nothing waits
}

// lock opens and locks the device. It does not become the controlling terminal and does not wait for a carrier.
func lock(name, path string) (*guard, error) {
	f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		if errors.Is(err, syscall.EBUSY) { // exclusive mode, set by somebody else
			return nil, inUse(name, path, err)
		}
		return nil, err
	}
	if err := flock(f); err != nil {
		err = errors.Join(err, f.Close())
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, inUse(name, path, err)
		}
		return nil, err
	}
	return &guard{f: f}, nil
}

// flock takes the lock without waiting and without taking the file out of the runtime's poller, as Fd would.
func flock(f *os.File) error {
	raw, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var lockErr error
	if err := raw.Control(func(fd uintptr) { lockErr = syscall.Flock(int(fd), syscall.LOCK_EX|syscall.LOCK_NB) }); err != nil {
		return err
	}
	return lockErr
}

// write sends b, and gives up when the line has not taken it in time.
func (g *guard) write(_ serial.Port, b []byte, limit time.Duration) (int, error) {
	if err := g.f.SetWriteDeadline(time.Now().Add(limit)); err != nil {
		return 0, err
	}
	n, err := g.f.Write(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return n, &Error{Op: "write", Port: g.f.Name(), Kind: ErrTimeout, Err: err,
			Detail: fmt.Sprintf("(%d of %d bytes taken by the line)", n, len(b)), Check: "flow control and cable"}
	}
	return n, err
}

func (g *guard) close() error { return g.f.Close() }

// inUse says who has the port, as far as the system shows it.
func inUse(name, path string, err error) *Error {
	e := &Error{Op: "open", Port: name, Kind: ErrInUse, Check: checks[ErrInUse], Err: err}
	if who := holders(path); len(who) > 0 {
		e.Detail = "by " + strings.Join(who, " and ")
	}
	return e
}

// holders names the processes that hold the lock on the device, or, where none does, all that have it open. Those of
// other users show only where we may look.
func holders(path string) []string {
	var locked, open []string
	dirs, _ := filepath.Glob("/proc/[0-9]*") // the pattern is sound
	for _, dir := range dirs {
		has, locks := holds(dir, path)
		if !has {
			continue
		}
		who := fmt.Sprintf("%s (process %s)", attribute(dir, "comm"), filepath.Base(dir))
		if filepath.Base(dir) == strconv.Itoa(os.Getpid()) {
			who = "this program itself"
		}
		open = append(open, who)
		if locks {
			locked = append(locked, who)
		}
	}
	if len(locked) > 0 {
		return locked
	}
	return open
}

// holds tells whether the process has path open, and whether it holds a lock on it.
func holds(process, path string) (open, locks bool) {
	entries, err := os.ReadDir(filepath.Join(process, "fd"))
	if err != nil {
		return false, false // another user's, or just ended
	}
	for _, e := range entries {
		if target, err := os.Readlink(filepath.Join(process, "fd", e.Name())); err != nil || target != path {
			continue
		}
		open = true
		locks = locks || strings.Contains(attribute(filepath.Join(process, "fdinfo"), e.Name()), "FLOCK")
	}
	return open, locks
}
