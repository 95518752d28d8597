package publishtest

import (
	"net"
	"sync"
	"testing"
)

// Proxy stands between a sink and its server and plays the faults of a network. It passes everything at first.
type Proxy struct {
	Addr string

	t      testing.TB
	target string
	wg     sync.WaitGroup

	mu       sync.Mutex
	listener net.Listener // nil while it refuses
	conns    map[net.Conn]bool
	stalled  chan struct{} // nil unless stalled; closed when that ends
	withheld chan struct{} // likewise, of the way back
	taken    int
}

// NewProxy starts a proxy for the server at target.
func NewProxy(t testing.TB, target string) *Proxy {
	t.Helper()
	p := &Proxy{t: t, target: target, Addr: FreeAddr(t), conns: map[net.Conn]bool{}}
	p.Pass()
	t.Cleanup(func() {
		p.Refuse()
		p.wg.Wait()
	})
	return p
}

// Cut ends every connection now open and takes new ones as before.
func (p *Proxy) Cut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.conns {
		_ = c.Close()
	}
}

// Refuse ends every connection and refuses new ones, as a host without the server does.
func (p *Proxy) Refuse() {
	p.mu.Lock()
	if p.listener != nil {
		_ = p.listener.Close()
		p.listener = nil
	}
	p.release()
	p.mu.Unlock()
	p.Cut()
}

// Stall takes connections and keeps the open ones, and carries not a byte: a network that swallows everything.
func (p *Proxy) Stall() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.stalled == nil {
		p.stalled = make(chan struct{})
	}
}

// Withhold carries what goes to the server, and holds back what comes from it: messages arrive, acknowledgements do not.
func (p *Proxy) Withhold() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.withheld == nil {
		p.withheld = make(chan struct{})
	}
}

func (p *Proxy) release() {
	if p.withheld != nil {
		close(p.withheld)
		p.withheld = nil
	}
	if p.stalled != nil {
		close(p.stalled)
		p.stalled = nil
	}
}

// Pass carries everything again. What was stalled goes on.
func (p *Proxy) Pass() {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.release()
	if p.listener != nil {
		return
	}
	l, err := net.Listen("tcp", p.Addr)
	if err != nil {
		p.t.Fatalf("proxy: listen: %v", err)
	}
	p.listener = l
	p.wg.Go(func() { p.accept(l) })
}

// Taken tells how many connections there were.
func (p *Proxy) Taken() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.taken
}

func (p *Proxy) accept(l net.Listener) {
	for {
		near, err := l.Accept()
		if err != nil {
			return // closed
		}
		far, err := net.Dial("tcp", p.target)
		if err != nil {
			_ = near.Close()
			continue
		}
		p.mu.Lock()
		p.taken++
		refusing := p.listener != l
		if !refusing {
			p.conns[near], p.conns[far] = true, true
		}
		p.mu.Unlock()
		if refusing {
			_, _ = near.Close(), far.Close()
			continue
		}
		p.wg.Go(func() { p.carry(near, far, true) })
		p.wg.Go(func() { p.carry(far, near, false) })
	}
}

// carry copies until either end closes, then closes both.
func (p *Proxy) carry(to, from net.Conn, back bool) {
	defer func() {
		_, _ = to.Close(), from.Close()
		p.mu.Lock()
		delete(p.conns, to)
		delete(p.conns, from)
		p.mu.Unlock()
	}()
	buf := make([]byte, 32<<10)
	for {
		n, err := from.Read(buf)
		p.mu.Lock()
		stalled, withheld := p.stalled, p.withheld
		p.mu.Unlock()
		if stalled != nil {
			<-stalled
		}
		if back && withheld != nil {
			<-withheld
		}
		if n > 0 {
			if _, err := to.Write(buf[:n]); err != nil {
				return
			}
		}
		if err != nil {
			return
		}
	}
}
