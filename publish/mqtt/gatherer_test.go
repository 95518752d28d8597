package mqtt

import (
	"bytes"
	"errors"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
)

// What comes while a piece is on its way goes out behind it in one piece, in order; who writes waits where much is gathered;
// the end sends what is there.
func TestGathererGathersInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		let, pieces := make(chan struct{}), [][]byte{}
		g := newGatherer(func(p []byte) error {
			<-let
			pieces = append(pieces, bytes.Clone(p))
			return nil
		})
		var want []byte
		write := func(p []byte) {
			want = append(want, p...)
			if n, err := g.Write(p); n != len(p) || err != nil {
				t.Errorf("got %d, %v of %d bytes", n, err, len(p))
			}
			clear(p) // it is the caller's again
		}
		for k := range 10 {
			write(fmt.Appendf(nil, "message %d;", k))
			synctest.Wait()
		}
		let <- struct{}{}
		let <- struct{}{}
		synctest.Wait()
		if len(pieces) != 2 || string(pieces[0]) != "message 0;" {
			t.Errorf("got pieces %q, want the first message, and the nine that came while it was on its way", pieces)
		}

		write(bytes.Repeat([]byte("a"), 10)) // on its way
		synctest.Wait()
		write(bytes.Repeat([]byte("b"), gathered))
		taken := false
		var one sync.WaitGroup
		one.Go(func() { write([]byte("c")); taken = true })
		synctest.Wait()
		if taken {
			t.Error("more was taken than is to be gathered")
		}
		let <- struct{}{}
		synctest.Wait()
		if !taken {
			t.Error("nothing was taken when there was room again")
		}
		one.Wait()
		close(let)
		g.end()
		if got := bytes.Join(pieces, nil); !bytes.Equal(got, want) {
			t.Errorf("got %d bytes, want the %d that were written, in order", len(got), len(want))
		}
		if _, err := g.Write([]byte("late")); !errors.Is(err, errLeft) {
			t.Errorf("got %v after the end, want %v", err, errLeft)
		}
	})
}

// A failure is told to who writes next and to who waits, and nothing is written after it.
func TestGathererFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		broken, let, calls := errors.New("the cable is out"), make(chan struct{}), 0
		g := newGatherer(func([]byte) error {
			<-let
			calls++
			return broken
		})
		for _, p := range [][]byte{[]byte("a"), make([]byte, gathered)} {
			if _, err := g.Write(p); err != nil {
				t.Error(err)
			}
			synctest.Wait()
		}
		var waiting sync.WaitGroup
		waiting.Go(func() {
			if _, err := g.Write([]byte("b")); !errors.Is(err, broken) {
				t.Errorf("who waits: got %v, want %v", err, broken)
			}
		})
		synctest.Wait()
		close(let)
		waiting.Wait()
		if _, err := g.Write([]byte("c")); !errors.Is(err, broken) {
			t.Errorf("who comes later: got %v, want %v", err, broken)
		}
		g.end()
		if calls != 1 {
			t.Errorf("got %d writes, want none after the one that failed", calls)
		}
	})
}
