package mqtt

import (
	"net"

	"golang.org/x/sys/unix"
)

// hurry has the system acknowledge at once what it has received. A broker that gathers small answers sends the next of them
// only when the one before is acknowledged (RFC 896), and the system waits up to 40 ms for something to send along with that
// (RFC 1122, 4.2.3.2): at the end of every batch, when nothing is to be sent. The option does not stay set (tcp(7)).
func hurry(c net.Conn) func() {
	t, ok := bottom(c).(*net.TCPConn)
	if !ok {
		return func() {}
	}
	raw, err := t.SyscallConn()
	if err != nil {
		return func() {}
	}
	// Where it fails the broker is only slower; on a closed connection it does, and reading tells.
	at := func(fd uintptr) { _ = unix.SetsockoptInt(int(fd), unix.IPPROTO_TCP, unix.TCP_QUICKACK, 1) }
	return func() { _ = raw.Control(at) }
}
