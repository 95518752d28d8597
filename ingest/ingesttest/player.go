package ingesttest

import (
	"context"
	"io"
	"os"
	"sync"
	"testing"

	"manobridge/ingest/recording"
)

// Player is a port that plays what was received in reads of Size bytes, and then says nothing more. Open is its opener;
// each opening plays from the start. The times of a recording are not kept; ingest.Source.Play is for those.
type Player struct {
	Recording []byte
	Size      int   // of one read; zero means as much as is asked for
	Ends      []int // where a read ends at the latest, ascending; nil where that is not known
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

// Replay makes a Player of a recording as listen makes it, in the very reads recorded.
func Replay(tb testing.TB, path string) (p Player) {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer func() {
		if err := f.Close(); err != nil {
			tb.Error(err)
		}
	}()
	for r, err := range recording.Reads(f) {
		if err != nil {
			tb.Fatalf("%s: %v", path, err)
		}
		p.Recording = append(p.Recording, r.Bytes...)
		p.Ends = append(p.Ends, len(p.Recording))
	}
	return p
}

// Open opens the port.
func (p Player) Open(context.Context) (io.ReadCloser, error) {
	return &playing{rest: p.Recording, size: p.Size, ends: p.Ends, closed: make(chan struct{})}, nil
}

type playing struct {
	rest   []byte
	size   int
	at     int // bytes given
	ends   []int
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
	if len(p.ends) > 0 {
		b = b[:min(len(b), p.ends[0]-p.at)]
	}
	n := copy(b, p.rest)
	p.at += n
	if len(p.ends) > 0 && p.at == p.ends[0] {
		p.ends = p.ends[1:]
	}
	p.rest = p.rest[n:]
	return n, nil
}

// Close ends a Read that waits.
func (p *playing) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}
