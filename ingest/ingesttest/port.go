package ingesttest

import (
	"context"
	"errors"
	"io"
	"sync"
)

// ErrPortClosed is what a Read of a Port ends with after Close.
var ErrPortClosed = errors.New("port closed")

// Port is a port that does on command what a pseudo-terminal cannot: bytes as a broken parity leaves them, reads cut
// where the test wants them, failures at a chosen moment. Its Open is the opener. It works under testing/synctest.
type Port struct {
	mu      sync.Mutex
	refusal error // of Open
	opens   int
	steps   chan step
}

type step struct {
	bytes []byte
	err   error
}

// NewPort makes a port that opens and says nothing.
func NewPort() *Port {
	return &Port{steps: make(chan step, 1<<16)}
}

// Send has one Read deliver the text, or several if it is longer than their buffer.
func (p *Port) Send(text string) { p.steps <- step{bytes: []byte(text)} }

// Fail has one Read fail after what was sent before.
func (p *Port) Fail(err error) { p.steps <- step{err: err} }

// Refuse makes Open fail until Allow.
func (p *Port) Refuse(err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.refusal = err
}

// Allow makes Open succeed again.
func (p *Port) Allow() { p.Refuse(nil) }

// Opens counts the openings tried.
func (p *Port) Opens() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.opens
}

// Unread counts the steps not yet read.
func (p *Port) Unread() int { return len(p.steps) }

// Open opens the port.
func (p *Port) Open(context.Context) (io.ReadCloser, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.opens++
	if p.refusal != nil {
		return nil, p.refusal
	}
	return &opened{port: p, closed: make(chan struct{})}, nil
}

// opened is the port while open.
type opened struct {
	port   *Port
	rest   []byte
	closed chan struct{}
	once   sync.Once
}

// Read waits for the next step.
func (o *opened) Read(b []byte) (int, error) {
	if len(o.rest) == 0 {
		select {
		case <-o.closed:
			return 0, ErrPortClosed
		default:
		}
		select {
		case <-o.closed:
			return 0, ErrPortClosed
		case s := <-o.port.steps:
			if s.err != nil {
				return 0, s.err
			}
			o.rest = s.bytes
		}
	}
	n := copy(b, o.rest)
	o.rest = o.rest[n:]
	return n, nil
}

// Close ends a Read that waits.
func (o *opened) Close() error {
	o.once.Do(func() { close(o.closed) })
	return nil
}
