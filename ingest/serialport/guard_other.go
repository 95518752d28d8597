//go:build !unix

package serialport

import (
	"time"

	"go.bug.st/serial"
)

// guard does nothing where the system itself opens a port for one program only.
type guard struct{}

func lock(string, string) (*guard, error) { return &guard{}, nil }

// libraryWaits is how long a read of the library waits for bytes, and with it how long Close waits for a reader.
const libraryWaits = 100 * time.Millisecond

// await leaves the wait to the library.
func (*guard) await(time.Duration) error { return nil }

func (*guard) wake() {}

func (*guard) write(p serial.Port, b []byte, _ time.Duration) (int, error) { return p.Write(b) }

func (*guard) close() error { return nil }
