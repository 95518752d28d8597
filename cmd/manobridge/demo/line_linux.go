package demo

import (
	"errors"
	"fmt"
	"os"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// openLine makes a pseudo-terminal pair that passes bytes through as they are, without echo.
func openLine(name string) (*serialLine, error) {
	near, far, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: no pseudo-terminal: %w", name, err)
	}
	closed := func(err error) error {
		return errors.Join(fmt.Errorf("%s: pseudo-terminal: %w", name, err), near.Close(), far.Close())
	}
	if _, err := term.MakeRaw(int(far.Fd())); err != nil {
		return nil, closed(err)
	}
	// Asking for its number has put the near end into blocking mode, where a deadline cannot end a write. A copy of the
	// descriptor, made non-blocking first, is one that can.
	fd, err := unix.FcntlInt(near.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, closed(err)
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		return nil, errors.Join(closed(err), unix.Close(fd))
	}
	if err := near.Close(); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: pseudo-terminal: %w", name, err), far.Close(), unix.Close(fd))
	}
	return &serialLine{name: name, path: far.Name(), near: os.NewFile(uintptr(fd), "near end of "+far.Name()), far: far}, nil
}

// control asks the far end something.
func (l *serialLine) control(request uint) (value int, err error) {
	conn, err := l.far.SyscallConn()
	if err != nil {
		return 0, err
	}
	if e := conn.Control(func(fd uintptr) { value, err = unix.IoctlGetInt(int(fd), request) }); e != nil {
		return 0, e
	}
	return value, err
}

// opened tells whether a reader has claimed the port for itself, as the serial library does when it opens one.
func (l *serialLine) opened() (bool, error) {
	exclusive, err := l.control(unix.TIOCGEXCL)
	return exclusive != 0, err
}

// unread is how many bytes wait for the reader.
func (l *serialLine) unread() (int, error) { return l.control(unix.TIOCINQ) }

// close takes the line away.
func (l *serialLine) close() error { return errors.Join(l.near.Close(), l.far.Close()) }
