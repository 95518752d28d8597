package serialport

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"go.bug.st/serial"
)

// Kind says what is wrong with a port. Each is also an error for errors.Is.
type Kind string

// Error gives the kind in words.
func (k Kind) Error() string { return string(k) }

// The kinds.
const (
	ErrMissing    Kind = "no such port"
	ErrAmbiguous  Kind = "more than one port fits"
	ErrInUse      Kind = "in use"
	ErrPermission Kind = "permission denied"
	ErrNotATTY    Kind = "not a serial port"
	ErrSettings   Kind = "settings not possible"
	ErrGone       Kind = "port gone"
	ErrTimeout    Kind = "nothing received in time"
	ErrClosed     Kind = "port closed"
	ErrOther      Kind = "failed"
)

// Error is a failure of a port.
type Error struct {
	Op     string // open, read, write, set, reset
	Port   string // path or identity, as configured
	Kind   Kind
	Detail string // what was seen; may be empty
	Check  string // what to check; may be empty
	Err    error  // the cause; may be nil
}

// Error gives one line for the log.
func (e *Error) Error() string {
	s := fmt.Sprintf("%s port %s: %s", e.Op, e.Port, e.Kind)
	if e.Detail != "" {
		s += " " + e.Detail
	}
	if e.Kind == ErrOther && e.Err != nil {
		s += ": " + e.Err.Error()
	}
	if e.Check != "" {
		s += "; check " + e.Check
	}
	return s
}

// Unwrap gives the kind and the cause.
func (e *Error) Unwrap() []error {
	if e.Err == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Err}
}

// Timeout tells whether only time ran out, as net.Error does.
func (e *Error) Timeout() bool { return e.Kind == ErrTimeout }

// classify turns what the library or the system says into an Error.
func classify(op, port string, err error) *Error {
	if e, ok := errors.AsType[*Error](err); ok {
		return e
	}
	e := &Error{Op: op, Port: port, Kind: ErrOther, Err: err}
	if pe, ok := errors.AsType[*serial.PortError](err); ok {
		switch pe.Code() {
		case serial.PortBusy:
			e.Kind = ErrInUse
		case serial.PortNotFound:
			e.Kind = ErrMissing
		case serial.PermissionDenied:
			e.Kind = ErrPermission
		case serial.InvalidSerialPort:
			e.Kind = ErrNotATTY
			if hint := pe.Error(); strings.Contains(hint, "configuring") {
				e.Kind, e.Detail = ErrSettings, "("+hint+")"
			}
		case serial.InvalidSpeed, serial.InvalidDataBits, serial.InvalidParity, serial.InvalidStopBits:
			e.Kind, e.Detail = ErrSettings, "("+pe.Error()+")"
		case serial.PortClosed:
			e.Kind = ErrGone // the caller knows when it was our own Close
		}
	} else {
		switch {
		case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV):
			e.Kind = ErrMissing
		case errors.Is(err, fs.ErrPermission):
			e.Kind = ErrPermission
		case errors.Is(err, syscall.EBUSY):
			e.Kind = ErrInUse
		case errors.Is(err, syscall.ENOTTY):
			e.Kind = ErrNotATTY
		case errors.Is(err, syscall.EIO):
			e.Kind = ErrGone
		}
	}
	if e.Kind == ErrMissing && op != "open" {
		e.Kind = ErrGone
	}
	e.Check = checks[e.Kind]
	return e
}

// checks says what to look at for each kind.
var checks = map[Kind]string{
	ErrMissing:    "that the adapter is plugged in, and the ports command for the name it has now",
	ErrAmbiguous:  "the ports command; add serial or interface, or give the device under /dev/serial/by-path",
	ErrInUse:      "which other program reads this port, and stop it",
	ErrPermission: "that the user belongs to the group that owns the port (often dialout or uucp)",
	ErrNotATTY:    "the device path; the ports command lists the serial ports",
	ErrSettings:   "baud, data_bits, parity and stop_bits against what the adapter can do",
	ErrGone:       "adapter, cable and its supply",
	ErrTimeout:    "cable, and that the digitizer sends",
}
