package ingesttest

import (
	"testing"

	"manobridge/ingest"
)

// PortContract checks what a Source relies on from a port: bytes come whole and in order, Close ends a Read that
// waits, and after Close nothing is read. fresh gives an opener and what makes the far end send text.
func PortContract(t *testing.T, fresh func(t *testing.T) (open ingest.Opener, send func(text string))) {
	t.Run("bytes in order", func(t *testing.T) {
		open, send := fresh(t)
		port, err := open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		const text = "02,110.5,21.0\r\n\x00\xff\x11\x13\x03\x04\x1a\n" // flow control and control characters too
		send(text[:7])
		send(text[7:])
		var got []byte
		for len(got) < len(text) {
			buf := make([]byte, 5)
			n, err := port.Read(buf)
			if err != nil || n == 0 {
				t.Fatalf("read after %q: got %d bytes, %v", got, n, err)
			}
			got = append(got, buf[:n]...)
		}
		if string(got) != text {
			t.Errorf("got %q, want %q", got, text)
		}
		if err := port.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	t.Run("close ends read", func(t *testing.T) {
		open, _ := fresh(t)
		port, err := open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		started, done := make(chan struct{}), make(chan error)
		go func() {
			close(started)
			_, err := port.Read(make([]byte, 8))
			done <- err
		}()
		<-started
		if err := port.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
		if err := <-done; err == nil {
			t.Error("read: got no error after Close")
		}
		if n, err := port.Read(make([]byte, 8)); n != 0 || err == nil {
			t.Errorf("read after Close: got %d bytes, %v, want none and an error", n, err)
		}
	})
	t.Run("open again", func(t *testing.T) {
		open, send := fresh(t)
		for range 2 {
			port, err := open(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			send("x")
			if n, err := port.Read(make([]byte, 8)); n != 1 || err != nil {
				t.Errorf("read: got %d bytes, %v, want 1", n, err)
			}
			if err := port.Close(); err != nil {
				t.Errorf("close: %v", err)
			}
		}
	})
}
