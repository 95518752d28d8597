package ingesttest

import (
	"context"
	"io"
	"os"
	"sync"
	"testing"
)

// Player is a port that plays a recording in reads of Size bytes, and then says nothing more. Open is its opener; each
// opening plays from the start.
type Player struct {
	Recording []byte
	Size      int // of one read; zero means as much as is asked for
}

// Play makes a Player of a recorded file.
func Play(tb testing.TB, path string, size int) Player {
	tb.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		tb.Fatal(err)
	}
	return Player{Recording: b, Size: size}
}

// Open opens the port.
func (p Player) Open(context.Context) (io.ReadCloser, error) {
	return &playing{rest: p.Recording, size: p.Size, closed: make(chan struct{})}, nil
}

type playing struct {
	rest   []byte
	size   int
	closed chan struct{}
	once   sync.Once
}

// Read gives the next piece of the recording, and waits for Close after the last.
func (p *playing) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		<-p.closed
		return 0, ErrPortClosed
	}
	if p.size > 0 && p.size < len(b) {
		b = b[:p.size]
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

// Close ends a Read that waits.
func (p *playing) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}
