package serialport

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"
)

// poll bounds how long one wait for bytes takes.
const poll = time.Second

// Port is an open serial port. Read, Write, ResetInputBuffer and Close may be called from different goroutines.
type Port struct {
	name     string // as configured
	path     string // as opened
	settings Settings

	closing atomic.Bool
	// reading is held by Read, and by Close before it closes. The library must not be closed under a reader: it closes the
	// descriptor before it wakes the reader, which would then look at whatever file got the same number.
	reading sync.Mutex

	mu     sync.Mutex // around everything else that touches the descriptor
	closed bool
	port   serial.Port
	guard  *guard
}

// Open opens the port, throws away what was received before, and keeps others from opening it. The error is an
// *Error. ctx is looked at before opening only: opening a port does not wait.
func Open(ctx context.Context, s Settings) (*Port, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	name := s.String()
	if err := s.Validate(); err != nil {
		return nil, &Error{Op: "open", Port: name, Kind: ErrSettings, Detail: "(" + err.Error() + ")"}
	}
	path, err := s.locate()
	if err != nil {
		return nil, err
	}
	if s.Device == "" {
		name += " (" + path + ")"
	}
	g, err := lock(name, path)
	if err != nil {
		return nil, classify("open", name, err)
	}
	port, err := serial.Open(path, s.mode())
	if err != nil {
		return nil, errors.Join(classify("open", name, err), g.close())
	}
	p := &Port{name: name, path: path, settings: s, port: port, guard: g}
	if err := p.prepare(); err != nil {
		return nil, errors.Join(classify("open", name, err), p.Close())
	}
	return p, nil
}

// prepare tries a read, which shows a descriptor too large for the library before anything depends on it, and drops
// what was received while nobody listened.
func (p *Port) prepare() error {
	if err := p.port.SetReadTimeout(0); err != nil {
		return err
	}
	if _, err := p.read(make([]byte, 1)); err != nil {
		return err
	}
	if err := p.port.ResetInputBuffer(); err != nil {
		return err
	}
	return p.port.SetReadTimeout(libraryWaits)
}

// Path is the device that was opened, links followed.
func (p *Port) Path() string { return p.path }

// Read waits for at least one byte. It never returns (0, nil) for a non-empty p: it fails with ErrTimeout when
// Settings.ReadTimeout has passed, ErrGone when the port vanished, ErrClosed after Close. The error is an *Error.
func (p *Port) Read(b []byte) (int, error) {
	if len(b) == 0 {
		return 0, nil
	}
	p.reading.Lock()
	defer p.reading.Unlock()
	began := time.Now()
	for {
		if p.closing.Load() {
			return 0, &Error{Op: "read", Port: p.name, Kind: ErrClosed}
		}
		wait := poll
		if limit := p.settings.ReadTimeout; limit > 0 {
			wait = min(wait, max(0, limit-time.Since(began)))
		}
		err := p.guard.await(wait)
		n := 0
		if err == nil {
			n, err = p.read(b)
		}
		if n > 0 {
			return n, nil // an error after bytes comes again with the next read
		}
		if err != nil {
			return 0, classify("read", p.name, err)
		}
		if limit, waited := p.settings.ReadTimeout, time.Since(began); limit > 0 && waited >= limit {
			return 0, &Error{Op: "read", Port: p.name, Kind: ErrTimeout, Check: checks[ErrTimeout],
				Detail: fmt.Sprintf("(%.1f s)", waited.Seconds())}
		}
	}
}

// read calls the library. Its select panics for a descriptor of 1024 or more.
func (p *Port) read(b []byte) (n int, err error) {
	defer func() {
		if r := recover(); r != nil {
			n, err = 0, &Error{Op: "read", Port: p.name, Kind: ErrOther,
				Err:   fmt.Errorf("too many files are open for the serial library (%v)", r),
				Check: "LimitNOFILE=1024 in the service file, and the number of connections"}
		}
	}()
	return p.port.Read(b)
}

// Write sends b within Settings.WriteTimeout. A line that does not drain ends it with ErrTimeout and the count of bytes
// taken.
func (p *Port) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return 0, &Error{Op: "write", Port: p.name, Kind: ErrClosed}
	}
	limit := p.settings.WriteTimeout
	if limit == 0 {
		limit = DefaultWriteTimeout
	}
	n, err := p.guard.write(p.port, b, limit)
	if err != nil {
		return n, classify("write", p.name, err)
	}
	return n, nil
}

// ResetInputBuffer drops what was received and not yet read.
func (p *Port) ResetInputBuffer() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return &Error{Op: "reset", Port: p.name, Kind: ErrClosed}
	}
	if err := p.port.ResetInputBuffer(); err != nil {
		return classify("reset", p.name, err)
	}
	return nil
}

// Close ends a Read, then closes. Calling it again does nothing.
func (p *Port) Close() error {
	p.closing.Store(true)
	p.guard.wake()
	p.reading.Lock()
	defer p.reading.Unlock()
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return nil
	}
	p.closed = true
	if err := errors.Join(p.port.Close(), p.guard.close()); err != nil {
		return classify("close", p.name, err)
	}
	return nil
}

// LineErrors gives what the driver counted, since it was loaded, of characters that arrived wrong or were lost: parity,
// framing, overrun (of the chip), break and buffer-overrun (of the driver). The counts start anew at 2^32. nil where the
// driver does not count, as that of a pseudo-terminal and some adapters': nothing is then known, which is not none.
func (p *Port) LineErrors() map[string]uint32 {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return nil
	}
	return p.guard.lineErrors()
}
