package control

import (
	"net"
	"os/user"
	"strconv"
	"syscall"
)

// What the system says where a socket is taken, or where nobody listens on one.
var (
	errAddressInUse error = syscall.EADDRINUSE
	errRefused      error = syscall.ECONNREFUSED
)

// userOf names who is at the other end of a connection: the name of the account, or its number where it has no name. It is
// empty where the kernel does not tell.
func userOf(c net.Conn) string {
	id, ok := peerID(c)
	if !ok {
		return ""
	}
	text := strconv.FormatUint(uint64(id), 10)
	if u, err := user.LookupId(text); err == nil {
		return u.Username
	}
	return "uid-" + text
}
