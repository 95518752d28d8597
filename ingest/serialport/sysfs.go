package serialport

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// Info is what the kernel tells of a serial port without opening it.
type Info struct {
	Name   string // ttyUSB0
	Device string // /dev/ttyUSB0
	ByID   string // /dev/serial/by-id/…; empty if there is none
	ByPath string // /dev/serial/by-path/…; empty if there is none
	Driver string // kernel driver; empty if not shown

	// What a USB adapter says of itself; empty for others and where it says nothing.
	Vendor, Product, Serial, Interface string
	Maker, Model                       string
}

// USB gives the identity by which the port is found again under any name; false for a port that is not on USB.
func (i Info) USB() (USB, bool) {
	return USB{Vendor: i.Vendor, Product: i.Product, Serial: i.Serial, Interface: i.Interface}, i.Vendor != ""
}

// List gives the serial ports of the machine in the order of their names, numbers in order. root stands in front of
// /sys and /dev; empty outside tests. A port whose entry cannot be read is left out of the list and named in the
// error; the others are still there.
func List(root string) ([]Info, error) {
	class := filepath.Join(root, "/sys/class/tty")
	entries, err := os.ReadDir(class)
	if err != nil {
		return nil, err
	}
	byID, byPath := links(root, "by-id"), links(root, "by-path")
	var ports []Info
	var problems []error
	for _, e := range entries {
		info, ok, err := describe(class, e.Name())
		if err != nil {
			problems = append(problems, err)
			continue
		}
		if !ok {
			continue
		}
		info.Device = filepath.Join(root, "/dev", info.Name)
		info.ByID, info.ByPath = byID[info.Name], byPath[info.Name]
		ports = append(ports, info)
	}
	slices.SortFunc(ports, func(a, b Info) int { return compareNames(a.Name, b.Name) })
	return ports, errors.Join(problems...)
}

// describe reads one entry; false if it is no serial port: a console, a pseudo-terminal, or one of the numbered places
// the driver keeps for ports that are not there.
func describe(class, name string) (info Info, ok bool, err error) {
	entry := filepath.Join(class, name)
	device, err := filepath.EvalSymlinks(filepath.Join(entry, "device"))
	if errors.Is(err, fs.ErrNotExist) {
		return Info{}, false, nil
	}
	if err != nil {
		return Info{}, false, err
	}
	if attribute(entry, "type") == "0" { // PORT_UNKNOWN in linux/serial_core.h: nothing was found at the address
		return Info{}, false, nil
	}
	info = Info{Name: name}
	if driver, err := filepath.EvalSymlinks(filepath.Join(device, "driver")); err == nil {
		info.Driver = filepath.Base(driver)
	}
	// The USB device is the first directory upward with a vendor; its interface lies between.
	for dir := device; len(dir) > 1 && filepath.Base(dir) != "devices"; dir = filepath.Dir(dir) {
		if n := attribute(dir, "bInterfaceNumber"); n != "" && info.Interface == "" {
			info.Interface = n
		}
		if v := attribute(dir, "idVendor"); v != "" {
			info.Vendor, info.Product, info.Serial = v, attribute(dir, "idProduct"), attribute(dir, "serial")
			info.Maker, info.Model = attribute(dir, "manufacturer"), attribute(dir, "product")
			break
		}
	}
	if info.Vendor == "" {
		info.Interface = ""
	}
	return info, true, nil
}

// attribute reads one small file; empty if it is not there.
func attribute(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// links gives the stable links of one kind, by the name of the port they lead to.
func links(root, kind string) map[string]string {
	dir := filepath.Join(root, "/dev/serial", kind)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil // some systems make none
	}
	found := make(map[string]string, len(entries))
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if target, err := os.Readlink(path); err == nil {
			found[filepath.Base(target)] = path
		}
	}
	return found
}

// compareNames orders ttyUSB2 before ttyUSB10.
func compareNames(a, b string) int {
	stemA, numberA := cutNumber(a)
	stemB, numberB := cutNumber(b)
	return cmp.Or(cmp.Compare(stemA, stemB), cmp.Compare(numberA, numberB), cmp.Compare(a, b))
}

func cutNumber(name string) (stem string, number int) {
	stem = strings.TrimRight(name, "0123456789")
	number, _ = strconv.Atoi(name[len(stem):]) // no digits, no number: 0
	return stem, number
}

// locate gives the path to open now: links followed, the identity looked up.
func (s Settings) locate() (string, error) {
	if s.Device != "" {
		path, err := filepath.EvalSymlinks(s.Device)
		if err != nil {
			return "", classify("open", s.String(), err)
		}
		return path, nil
	}
	ports, err := List(s.Root)
	fits := slices.DeleteFunc(ports, func(i Info) bool { return !s.USB.fits(i) })
	switch {
	case len(fits) == 1:
		path, err := filepath.EvalSymlinks(fits[0].Device)
		if err != nil {
			return "", classify("open", s.String(), err)
		}
		return path, nil
	case len(fits) == 0:
		return "", &Error{Op: "open", Port: s.String(), Kind: ErrMissing, Check: checks[ErrMissing], Err: err}
	}
	names := make([]string, len(fits))
	for i, f := range fits {
		names[i] = f.Name
	}
	return "", &Error{
		Op: "open", Port: s.String(), Kind: ErrAmbiguous, Check: checks[ErrAmbiguous],
		Detail: "(" + strings.Join(names, ", ") + ")",
	}
}
