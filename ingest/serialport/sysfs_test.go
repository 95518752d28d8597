package serialport_test

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"manobridge/ingest/ingesttest"
	"manobridge/ingest/serialport"
)

// tree builds a machine's /sys and /dev as the kernel lays them out (Documentation/ABI/stable/sysfs-bus-usb and
// testing/sysfs-tty of the Linux kernel).
type tree struct {
	t    *testing.T
	root string
}

func newTree(t *testing.T) tree {
	tr := tree{t, t.TempDir()}
	tr.dir("sys/class/tty")
	tr.dir("dev")
	return tr
}

func (tr tree) dir(path string) {
	tr.t.Helper()
	if err := os.MkdirAll(filepath.Join(tr.root, path), 0o755); err != nil {
		tr.t.Fatal(err)
	}
}

func (tr tree) file(path, text string) {
	tr.t.Helper()
	tr.dir(filepath.Dir(path))
	if err := os.WriteFile(filepath.Join(tr.root, path), []byte(text+"\n"), 0o644); err != nil {
		tr.t.Fatal(err)
	}
}

func (tr tree) link(path, target string) {
	tr.t.Helper()
	tr.dir(filepath.Dir(path))
	if err := os.Symlink(target, filepath.Join(tr.root, path)); err != nil {
		tr.t.Fatal(err)
	}
}

// usb adds a USB adapter with one port. A driver of its own (ttyUSB) has a port directory below the interface, the
// communication class (ttyACM) has not.
func (tr tree) usb(tty, bus, vendor, product, serial, iface string) {
	dev := "sys/devices/pci0000:00/usb1/" + bus
	at := dev + "/" + bus + ":1." + iface
	tr.file(dev+"/idVendor", vendor)
	tr.file(dev+"/idProduct", product)
	if serial != "" {
		tr.file(dev+"/serial", serial)
	}
	tr.file(at+"/bInterfaceNumber", "0"+iface)
	device := at
	if strings.HasPrefix(tty, "ttyUSB") {
		device = at + "/" + tty
	}
	tr.dir(device + "/tty/" + tty)
	tr.dir("sys/bus/usb/drivers/some_driver")
	if device == at {
		tr.link(at+"/driver", filepath.Join(tr.root, "sys/bus/usb/drivers/some_driver"))
	}
	tr.link(device+"/tty/"+tty+"/device", filepath.Join(tr.root, device))
	tr.link("sys/class/tty/"+tty, filepath.Join(tr.root, device+"/tty/"+tty))
}

func (tr tree) platform(tty, kind string) {
	at := "sys/devices/platform/serial8250/tty/" + tty
	tr.file(at+"/type", kind)
	tr.link(at+"/device", filepath.Join(tr.root, "sys/devices/platform/serial8250"))
	tr.link("sys/class/tty/"+tty, filepath.Join(tr.root, at))
}

func TestList(t *testing.T) {
	tr := newTree(t)
	tr.usb("ttyUSB10", "1-2", "0403", "6001", "A10K", "0")
	tr.usb("ttyUSB2", "1-3", "1a86", "7523", "", "0")
	tr.usb("ttyACM0", "1-4", "2341", "0043", "7563", "1")
	tr.platform("ttyS0", "4")       // 16550A
	tr.platform("ttyS1", "0")       // nothing there
	tr.dir("sys/class/tty/console") // no device behind it
	tr.dir("sys/class/tty/ptmx")    // neither
	tr.link("dev/serial/by-id/usb-A10K-if00-port0", "../../ttyUSB10")
	tr.link("dev/serial/by-path/pci-0000:00-usb-0:3:1.0-port0", "../../ttyUSB2")

	ports, err := serialport.List(tr.root)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range ports {
		names = append(names, p.Name)
	}
	if want := []string{"ttyACM0", "ttyS0", "ttyUSB2", "ttyUSB10"}; !slices.Equal(names, want) {
		t.Fatalf("got %v, want %v", names, want)
	}
	acm, s0, usb2, usb10 := ports[0], ports[1], ports[2], ports[3]
	if usb10.ByID != filepath.Join(tr.root, "dev/serial/by-id/usb-A10K-if00-port0") || usb10.ByPath != "" {
		t.Errorf("ttyUSB10: got by-id %q, by-path %q", usb10.ByID, usb10.ByPath)
	}
	if usb2.ByPath == "" || usb2.Serial != "" || usb2.Interface != "00" {
		t.Errorf("ttyUSB2: got %+v, want a by-path link, no serial number, interface 00", usb2)
	}
	if u, ok := usb10.USB(); !ok || u.String() != "usb 0403:6001:A10K:00" {
		t.Errorf("ttyUSB10: got %v, want usb 0403:6001:A10K:00", u)
	}
	if acm.Vendor != "2341" || acm.Interface != "01" || acm.Driver != "some_driver" {
		t.Errorf("ttyACM0: got %+v", acm)
	}
	if _, ok := s0.USB(); ok || s0.Device != filepath.Join(tr.root, "dev/ttyS0") {
		t.Errorf("ttyS0: got %+v, want no USB identity", s0)
	}
}

func TestListOnThisMachine(t *testing.T) {
	if _, err := os.Stat("/sys/class/tty"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("this system shows no /sys/class/tty")
		}
		t.Skip("SKIPPED: this system shows no /sys/class/tty")
	}
	ports, err := serialport.List("")
	if err != nil {
		t.Errorf("got %v, want every entry readable", err)
	}
	for _, p := range ports {
		if strings.HasPrefix(p.Name, "pts") || p.Name == "tty" || p.Name == "console" {
			t.Errorf("%s is listed as a serial port", p.Name)
		}
	}
}

// The kernel gives a replugged adapter another number; the identity finds it there.
func TestOpenByIdentityAfterRenumbering(t *testing.T) {
	tr := newTree(t)
	line := ingesttest.NewLine(t)
	s := serialport.Settings{USB: serialport.USB{Vendor: "0403", Product: "6001", Serial: "A10K"}, Root: tr.root,
		Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1}

	if _, err := serialport.Open(t.Context(), s); !errors.Is(err, serialport.ErrMissing) || !strings.Contains(err.Error(), "0403:6001:A10K") {
		t.Errorf("not plugged in: got %v, want %v naming the identity", err, serialport.ErrMissing)
	}
	tr.usb("ttyUSB1", "1-2", "0403", "6001", "A10K", "0")
	tr.usb("ttyUSB0", "1-3", "0403", "6001", "B22X", "0")
	tr.link("dev/ttyUSB1", line.Path)
	p := open(t, s)
	line.Send("ok")
	if got := readString(t, p, 2); got != "ok" {
		t.Errorf("got %q, want ok", got)
	}

	s.USB.Serial = ""
	_, err := serialport.Open(t.Context(), s)
	if !errors.Is(err, serialport.ErrAmbiguous) || !strings.Contains(err.Error(), "ttyUSB0, ttyUSB1") {
		t.Errorf("two adapters: got %v, want %v naming both", err, serialport.ErrAmbiguous)
	}
}

func TestValidateReportsEverything(t *testing.T) {
	err := serialport.Settings{USB: serialport.USB{Vendor: "403", Product: "zzzz", Interface: "1"}}.Validate()
	if err == nil {
		t.Fatal("got no error")
	}
	for _, key := range []string{"usb.vendor", "usb.product", "usb.interface", "baud", "data_bits", "parity", "stop_bits"} {
		if !strings.Contains(err.Error(), key+":") {
			t.Errorf("%s is not named in:\n%v", key, err)
		}
	}
}
