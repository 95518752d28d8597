//go:build !linux

package mqtt

import "net"

// hurry does nothing where the system has no such option.
func hurry(net.Conn) func() { return func() {} }
