package serialport

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// counters is serial_icounter_struct of linux/serial.h: what the driver counted since it was loaded.
type counters struct {
	cts, dsr, rng, dcd, rx, tx                  int32
	frame, overrun, parity, brk, bufferOverruns int32
	reserved                                    [9]int32
}

// lineErrors asks the driver; nil where it does not count, as that of a pseudo-terminal.
func (g *guard) lineErrors() map[string]uint32 {
	raw, err := g.f.SyscallConn()
	if err != nil {
		return nil
	}
	var c counters
	var errno unix.Errno
	if err := raw.Control(func(fd uintptr) {
		_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, unix.TIOCGICOUNT, uintptr(unsafe.Pointer(&c)))
	}); err != nil || errno != 0 {
		return nil
	}
	return c.named()
}

// named gives the counts of what went wrong with characters.
func (c *counters) named() map[string]uint32 {
	return map[string]uint32{
		"parity": uint32(c.parity), "framing": uint32(c.frame), "overrun": uint32(c.overrun),
		"break": uint32(c.brk), "buffer-overrun": uint32(c.bufferOverruns),
	}
}
