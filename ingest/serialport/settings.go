package serialport

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"go.bug.st/serial"
)

// Settings say which port to open and how. Nothing is filled in: a rate, data bits, parity or stop bits left out is
// refused, because the library would silently take 9600 or 8.
type Settings struct {
	// Device is the path of the port; links such as those under /dev/serial/by-path are followed at every opening.
	Device string
	// USB finds the port by what the adapter says of itself, anew at every opening. Either this or Device.
	USB USB

	Baud     int    // bit/s, 50 to 4 000 000
	DataBits int    // 5 to 8
	Parity   string // none, odd, even, mark or space
	StopBits int    // 1 or 2

	// ReadTimeout bounds how long Read waits for the first byte before it returns ErrTimeout. Zero: without end.
	ReadTimeout time.Duration
	// WriteTimeout bounds one Write. Zero means DefaultWriteTimeout.
	WriteTimeout time.Duration

	// Root stands in front of /sys, /dev/serial and, for a port found by USB identity, /dev. Empty outside tests.
	Root string
}

// DefaultWriteTimeout bounds a Write where Settings.WriteTimeout is zero: enough for 512 bytes at 9600 bit/s.
const DefaultWriteTimeout = time.Second

// Limits of the rate that the kernel's table of standard rates spans.
const (
	minBaud = 50
	maxBaud = 4_000_000
)

var parities = map[string]serial.Parity{
	"none": serial.NoParity, "odd": serial.OddParity, "even": serial.EvenParity, "mark": serial.MarkParity, "space": serial.SpaceParity,
}

// Validate returns every problem of the settings at once, each with the key it is about.
func (s Settings) Validate() error {
	var problems []error
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	switch {
	case s.Device == "" && s.USB == (USB{}):
		bad("device: missing; give the path of the port, or usb with vendor and product")
	case s.Device != "" && s.USB != (USB{}):
		bad("device: %s and usb are both given; give one of them", s.Device)
	case s.Device == "":
		if err := s.USB.validate(); err != nil {
			problems = append(problems, err)
		}
	}
	if s.Baud < minBaud || s.Baud > maxBaud {
		bad("baud: %d bit/s is outside %d to %d", s.Baud, minBaud, maxBaud)
	}
	if s.DataBits < 5 || s.DataBits > 8 {
		bad("data_bits: %d is outside 5 to 8", s.DataBits)
	}
	if _, ok := parities[s.Parity]; !ok {
		bad("parity: %q is not none, odd, even, mark or space", s.Parity)
	}
	if s.StopBits != 1 && s.StopBits != 2 {
		bad("stop_bits: %d is not 1 or 2", s.StopBits)
	}
	if s.ReadTimeout < 0 || s.WriteTimeout < 0 {
		bad("timeout: %v for reading, %v for writing: negative", s.ReadTimeout, s.WriteTimeout)
	}
	return errors.Join(problems...)
}

// mode gives the library's form of valid settings.
func (s Settings) mode() *serial.Mode {
	stop := serial.OneStopBit
	if s.StopBits == 2 {
		stop = serial.TwoStopBits
	}
	return &serial.Mode{BaudRate: s.Baud, DataBits: s.DataBits, Parity: parities[s.Parity], StopBits: stop}
}

// String names the port as a person would.
func (s Settings) String() string {
	if s.Device != "" {
		return s.Device
	}
	return s.USB.String()
}

// Character is how long one character takes on the line, start and stop bits included; zero for a rate of zero.
func (s Settings) Character() time.Duration {
	if s.Baud <= 0 {
		return 0
	}
	bits := 1 + s.DataBits + s.StopBits
	if s.Parity != "none" {
		bits++
	}
	return time.Duration(bits) * time.Second / time.Duration(s.Baud)
}

// Opener gives the function that opens the port, in the form a reader of bytes needs.
func (s Settings) Opener() func(context.Context) (io.ReadCloser, error) {
	return func(ctx context.Context) (io.ReadCloser, error) {
		p, err := Open(ctx, s)
		if err != nil {
			return nil, err // a nil *Port in an interface would not be nil
		}
		return p, nil
	}
}

// USB is what a USB adapter says of itself.
type USB struct {
	Vendor    string // four hexadecimal digits
	Product   string // four hexadecimal digits
	Serial    string // empty: any
	Interface string // two hexadecimal digits, for adapters with several ports; empty: any
}

func (u USB) validate() error {
	var problems []error
	for _, p := range []struct {
		key, value string
		digits     int
		needed     bool
	}{{"vendor", u.Vendor, 4, true}, {"product", u.Product, 4, true}, {"interface", u.Interface, 2, false}} {
		if p.value == "" && !p.needed {
			continue
		}
		if len(p.value) != p.digits || strings.Trim(strings.ToLower(p.value), "0123456789abcdef") != "" {
			problems = append(problems, fmt.Errorf("usb.%s: %q is not %d hexadecimal digits", p.key, p.value, p.digits))
		}
	}
	return errors.Join(problems...)
}

// String writes the identity as VENDOR:PRODUCT:SERIAL:INTERFACE, what is not given left out.
func (u USB) String() string {
	s := "usb " + strings.ToLower(u.Vendor) + ":" + strings.ToLower(u.Product)
	if u.Serial != "" || u.Interface != "" {
		s += ":" + u.Serial
	}
	if u.Interface != "" {
		s += ":" + u.Interface
	}
	return s
}

// fits tells whether the port has this identity.
func (u USB) fits(i Info) bool {
	return strings.EqualFold(u.Vendor, i.Vendor) && strings.EqualFold(u.Product, i.Product) &&
		(u.Serial == "" || u.Serial == i.Serial) && (u.Interface == "" || strings.EqualFold(u.Interface, i.Interface))
}
